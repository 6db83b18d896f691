/** How many units of a want to buy from now on, those in the trolley included, those bought not. */

import { html, nothing } from 'lit';
import { Superseded } from '../phone/engine-bridge.js';
import { PageElement } from '../phone/page-element.js';
import { money, wantName } from '../phone/report-words.js';

/** @import { Plan, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { OtherCount } from '../phone/one-more.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

class HowMany extends PageElement {
  static properties = { trip: {}, plan: {}, line: {}, standing: {}, inHand: {}, units: { state: true }, other: { state: true } };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {AisleLine | null} */
    this.line = null;
    /** @type {Standing | null} */
    this.standing = null;
    /** @type {TripInHand | null} */
    this.inHand = null;
    this.units = 0;
    /** @type {{more: OtherCount | null, fewer: OtherCount | null} | null} null while it is worked out */
    this.other = null;
  }

  firstUpdated() {
    void this.#ask();
  }

  async #ask() {
    const { line, inHand } = this;
    if (!line || !inHand) return;
    try {
      this.other = await inHand.oneMore(line.want, this.units);
    } catch (error) {
      if (!(error instanceof Superseded)) console.error(error);
    }
  }

  willUpdate() {
    if (this.hasUpdated) return;
    const deals = (this.plan?.deals ?? []).filter((deal) => deal.want === this.line?.want);
    this.units = deals.reduce((sum, deal) => sum + deal.units, 0);
  }

  render() {
    const { trip, line, units } = this;
    if (!trip || !line) return nothing;
    const { need, welcome } = this.#numbers(line.want);
    return html`
      <p>${wantName(trip, line.want)}: ${need} needed, up to ${Math.max(need, welcome)} welcome on this trip.</p>
      <p role="status">${this.other
        ? [otherWords(trip, 'One more', this.other.more), otherWords(trip, 'One fewer', this.other.fewer)].join(' ')
        : 'Working out what one more or one fewer does.'}</p>
      <div class="stepper" role="group" aria-label="Units to buy">
        <button aria-label="One fewer" ?disabled=${units === 0} @click=${() => { this.units = units - 1; }}>−</button>
        <output>${units} to buy</output>
        <button aria-label="One more" @click=${() => { this.units = units + 1; }}>+</button>
      </div>
      <button class="go wide" @click=${() => this.report([
        { kind: 'need_changed', want: line.want, need: units, welcome: units }])}>
        ${units === 0 ? 'Leave it' : `Buy ${units}`}</button>`;
  }

  /** The want's numbers by now. @param {string} id */
  #numbers(id) {
    const want = this.trip?.wants?.find((other) => other.id === id);
    return this.standing?.needs.get(id) ?? { need: want?.need ?? 0, welcome: want?.welcome ?? 0 };
  }
}

/**
 * What another count does to the whole trip, and whether that is worth it by her stock-up price.
 * @param {Trip} trip @param {string} words @param {OtherCount | null} other
 */
function otherWords(trip, words, other) {
  if (!other) return words === 'One more' ? 'One more is not to be had.' : '';
  const { netChange, valueChange } = other;
  const worth = netChange - valueChange;
  const cost = netChange === 0 ? 'net stays' : `net ${money(trip, Math.abs(netChange))} ${netChange > 0 ? 'more' : 'less'}`;
  if (worth === 0) return `${words}: ${cost}.`;
  return `${words}: ${cost}, ${money(trip, Math.abs(worth))} ${worth > 0 ? 'worth more' : 'worth less'} to you: ${valueChange <= 0 ? 'worth it' : 'not worth it'}.`;
}

customElements.define('how-many', HowMany);
