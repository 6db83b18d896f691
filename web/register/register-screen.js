/** The Register: the transactions of the trip, one of them in full. */

import { html, nothing } from 'lit';
import { keyed } from 'lit/directives/keyed.js';
import './register-transaction.js';
import { ghosts } from '../phone/ghosts.js';
import { PageElement } from '../phone/page-element.js';
import { money, sayReport, storeName } from '../phone/report-words.js';
import { shapeOf } from '../phone/shapes.js';
import { nameOf, transactionsAt } from './checkout.js';

/** @import { Plan, PlannedTransaction, Trip } from '../engine/types.js' */
/** @import { Done, Standing } from '../phone/fold.js' */
/** @import { Replanning } from '../phone/trip-in-hand.js' */

class RegisterScreen extends PageElement {
  static properties = { trip: {}, plan: {}, standing: {}, replanning: {}, chosen: { state: true } };

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
    /** Name of the transaction that is shown, '' for the first that is to do. */
    this.chosen = '';
  }

  render() {
    const { trip, plan, standing } = this;
    if (!trip || !standing) return nothing;
    if (!plan) return ghosts(3, 'Working out the plan');
    const todo = plan.transactions;
    const shown = todo.find((planned) => nameOf(planned) === this.chosen) ?? todo.find(inAddress) ?? todo[0];
    return html`
      ${plan.notes?.map((note) => html`<p class="note">${note}</p>`)}
      ${standing.done.map((done) => this.#done(trip, done))}
      ${todo.length === 0
        ? html`<p class="note">Everything is through the register.</p>`
        : nothing}
      ${todo.map((planned) => planned === shown
        ? keyed(nameOf(planned), html`
            <register-transaction .trip=${trip} .plan=${plan} .standing=${standing} .planned=${planned}
              .of=${transactionsAt(plan, standing, planned.store)} ?waiting=${this.replanning === 'pending'}
              @report=${this.#next}></register-transaction>`)
        : this.#closed(trip, planned))}`;
  }

  /** @param {Trip} trip @param {PlannedTransaction} planned */
  #closed(trip, planned) {
    return html`
      <button class="choice later" @click=${() => { this.chosen = nameOf(planned); }}>
        <span>${storeName(trip, planned.store)}, transaction ${planned.number}</span>
        <b>${money(trip, planned.receipt.total_cents)}</b>
      </button>`;
  }

  /** @param {Trip} trip @param {Done} done */
  #done(trip, { report }) {
    return html`<p class="torn">${shapeOf('bought')} <span>${sayReport(trip, report)}</span></p>`;
  }

  /** The next one comes up by itself, at its top. */
  #next() {
    this.chosen = '';
    // The address may still name the store that is done; the first to do counts from here.
    history.replaceState(null, '', '#/register');
    void this.updateComplete.then(() => this.closest('main')?.scrollTo(0, 0));
  }
}

/** Whether the address asks for this transaction's store. @param {PlannedTransaction} planned */
const inAddress = (planned) => location.hash === `#/register/${planned.store}`;

customElements.define('register-screen', RegisterScreen);
