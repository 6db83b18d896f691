/** How many units of a want to buy from now on, those in the trolley included, those bought not. */

import { html, nothing } from 'lit';
import { PageElement } from '../phone/page-element.js';
import { wantName } from '../phone/report-words.js';

/** @import { Plan, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { AisleLine } from '../phone/lines.js' */

class HowMany extends PageElement {
  static properties = { trip: {}, plan: {}, line: {}, standing: {}, units: { state: true } };

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
    this.units = 0;
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

customElements.define('how-many', HowMany);
