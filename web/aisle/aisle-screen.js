/** The Aisle: every line, store by store in the order of the drive, place by place. */

import { html, nothing } from 'lit';
import { repeat } from 'lit/directives/repeat.js';
import './aisle-line.js';
import { aisleOf, linesIn, withLinesOf } from '../phone/lines.js';
import { PageElement } from '../phone/page-element.js';
import { counted } from '../phone/report-words.js';
import { ghosts } from '../phone/ghosts.js';

/** @import { Plan, Store, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { AisleLine, Place, StoreSection } from '../phone/lines.js' */
/** @import { Replanning, TripInHand } from '../phone/trip-in-hand.js' */

/** Lines that fill the tallest phone; the others follow once these are painted. */
const SCREENFUL = 8;

class AisleScreen extends PageElement {
  static properties = {
    trip: {}, plan: {}, standing: {}, replanning: {}, inHand: {}, beat: {},
    open: { state: true }, asking: { state: true }, whole: { state: true },
  };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {Standing | null} */
    this.standing = null;
    /** @type {Replanning} */
    this.replanning = 'initial';
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** Changes when a break-even tag came in. */
    this.beat = 0;
    /** Key of the line whose sheet is up. */
    this.open = '';
    /** @type {Store | undefined} where something unplanned is asked about */
    this.asking = undefined;
    /** @type {StoreSection[]} */
    this.sections = [];
    /** Every line is shown, not only the first screenful. */
    this.whole = false;
  }

  /** @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    const { trip, plan, standing } = this;
    if (!trip || !standing || !['trip', 'plan', 'standing'].some((each) => changed.has(each))) return;
    this.sections = withLinesOf(this.sections, aisleOf(trip, plan, standing));
  }

  /** With the lines on it. */
  async getUpdateComplete() {
    const settled = await super.getUpdateComplete();
    await Promise.all([...this.querySelectorAll('aisle-line')].map((line) => /** @type {PageElement} */ (line).updateComplete));
    return settled;
  }

  updated() {
    if (this.whole || this.sections.length === 0) return;
    requestAnimationFrame(() => setTimeout(() => {
      this.whole = true;
      // The sheets come after the lines are painted, and are there before a thumb is.
      setTimeout(() => void sheets());
    }));
  }

  render() {
    const { trip, plan, standing } = this;
    if (!trip || !standing) return nothing;
    const sections = this.whole ? this.sections : firstOf(this.sections);
    if (!plan && sections.length === 0) return ghosts(5, 'Working out the plan');
    const line = linesIn(sections).find((other) => other.key === this.open);
    return html`
      ${sections.length === 0 ? html`<p class="note">Nothing to buy on this trip.</p>` : nothing}
      ${repeat(sections, (section) => section.store.id, (section) => this.#section(section))}
      ${this.#unmet()}
      <line-sheet .trip=${trip} .plan=${plan} .standing=${standing} .line=${line} .inHand=${this.inHand}></line-sheet>
      <deal-sheet .trip=${trip} .store=${this.asking}></deal-sheet>`;
  }

  /** @param {StoreSection} section */
  #section({ store, places, toFind }) {
    const toPay = this.plan?.transactions.some((planned) => planned.store === store.id) ?? false;
    return html`
      <section class="store" aria-labelledby="store-${store.id}">
        <div class="store-head">
          <h2 id="store-${store.id}">${store.name}</h2>
          <p>${toFind > 0 ? `${counted(toFind, 'line')} to find` : toPay ? 'all found' : 'all bought'}</p>
        </div>
        ${repeat(places, ({ place }) => place, ({ place, lines }) => html`
          <h3>${place || 'Somewhere in the store'}</h3>
          <ul class="lines">
            ${repeat(lines, (line) => line.key, (line) => html`
              <li><aisle-line .trip=${this.trip} .line=${line}
                .device=${this.inHand?.device ?? ''}
                .upTo=${this.inHand?.breakEvens.of(line.store, line.product)}
                @more=${() => this.#more(line, 'all')} @empty=${() => this.#more(line, 'empty')}></aisle-line></li>`)}
          </ul>`)}
        <button class="plain wide ask" @click=${() => this.#ask(store)}>Is this a deal?</button>
        ${toFind === 0 && toPay
          ? html`<a class="go wide" href="#/register/${store.id}">To the register</a>`
          : nothing}
      </section>`;
  }

  /** Needs that the plan cannot meet are said, not hidden. */
  #unmet() {
    const { trip, plan } = this;
    const unmet = plan?.unmet ?? [];
    if (!trip || unmet.length === 0) return nothing;
    return html`
      <section class="store" aria-labelledby="unmet">
        <div class="store-head"><h2 id="unmet">Not to be had</h2></div>
        <ul class="plainlist">
          ${unmet.map(({ want, missing, because }) => html`
            <li>${missing} × ${trip.wants?.find((other) => other.id === want)?.name || want}. ${because}</li>`)}
        </ul>
      </section>`;
  }

  /** @param {Store} store */
  async #ask(store) {
    this.asking = store;
    await Promise.all([sheets(), this.updateComplete]);
    await /** @type {import('./deal-sheet.js').DealSheet | null} */ (this.querySelector('deal-sheet'))?.ask();
  }

  /** @param {AisleLine} line @param {import('./line-sheet.js').View} view */
  async #more(line, view) {
    this.open = line.key;
    await Promise.all([sheets(), this.updateComplete]);
    const sheet = /** @type {import('./line-sheet.js').LineSheet | null} */ (this.querySelector('line-sheet'));
    await sheet?.showView(view);
  }
}

/** The places that the first screenful of lines stands in. @param {readonly StoreSection[]} sections @returns {StoreSection[]} */
function firstOf(sections) {
  let shown = 0;
  const places = (/** @type {readonly Place[]} */ all) => all.filter(({ lines }) => {
    const begins = shown < SCREENFUL;
    shown += lines.length;
    return begins;
  });
  return sections.map((section) => ({ ...section, places: places(section.places) }))
    .filter((section) => section.places.length > 0);
}

/** The sheets' own modules, which bring the register's arithmetic with them. */
const sheets = () => Promise.all([import('./line-sheet.js'), import('./deal-sheet.js')]);

customElements.define('aisle-screen', AisleScreen);
