/**
 * How many units of a want to buy from now on, those in the trolley included, those bought not. Each tap
 * counts at once, as it does for what lies in the trolley.
 */

import { html, nothing } from 'lit';
import { EngineAnswer } from '../phone/engine-answer.js';
import { PageElement } from '../phone/page-element.js';
import { money, wantName } from '../phone/report-words.js';

/** @import { Plan, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { OtherCount } from '../phone/one-more.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

class HowMany extends PageElement {
  static properties = { trip: {}, plan: {}, line: {}, standing: {}, inHand: {} };

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
    /** @type {EngineAnswer<{more: OtherCount | null, fewer: OtherCount | null}>} */
    this.other = new EngineAnswer(this, (inHand) => inHand.oneMore(this.line?.want ?? '', this.#units()));
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line) return nothing;
    const { need, welcome } = this.#numbers(line.want);
    const units = this.#units();
    const other = this.other.value;
    return html`
      <p>${wantName(trip, line.want)}: ${need} needed, up to ${Math.max(need, welcome)} welcome on this trip.</p>
      <div class="stepper" role="group" aria-label="Units to buy">
        <button aria-label="One fewer" ?disabled=${units === 0} @click=${() => this.#buy(line, units - 1)}>−</button>
        <output>${units} to buy</output>
        <button aria-label="One more" @click=${() => this.#buy(line, units + 1)}>+</button>
      </div>
      <p role="status">${other
        ? [otherWords(trip, 'One more', other.more), otherWords(trip, 'One fewer', other.fewer)].join(' ')
        : this.other.trouble ? nothing : 'Working out what one more or one fewer does.'}</p>`;
  }

  /** As she last said, else as planned. */
  #units() {
    const want = this.line?.want ?? '';
    const deals = (this.plan?.deals ?? []).filter((deal) => deal.want === want);
    return this.standing?.needs.get(want)?.welcome ?? deals.reduce((sum, deal) => sum + deal.units, 0);
  }

  /** The want's numbers by now. @param {string} id */
  #numbers(id) {
    const want = this.trip?.wants?.find((other) => other.id === id);
    return this.standing?.needs.get(id) ?? { need: want?.need ?? 0, welcome: want?.welcome ?? 0 };
  }

  /** @param {AisleLine} line @param {number} units */
  #buy({ want }, units) {
    this.report([{ kind: 'need_changed', want, need: units, welcome: units }]);
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
