/** What is due soon, day by day, and whether this phone reminds of it. Part of the Trip screen. */

import { html, nothing } from 'lit';
import { settleOf } from './addresses.js';
import { reminding } from './due-soon.js';
import { PageElement } from './page-element.js';
import { counted } from './report-words.js';

/** @import { DueSoon } from './due-soon.js' */

const { OFFERS, daysUntil, dueWithin, keyOf, localDay, longDay } = reminding;

/** Days ahead that are shown; further, where she wants to be reminded earlier than that. */
const SHOWN_DAYS = 14;
/** Days ahead that are open; the others can be unfolded, so that what follows on the screen is not far down. */
const OPEN_DAYS = 7;
/** Claimed at Settle, each with its trip. */
const CLAIMS = new Set(['claim', 'set bonus']);
const IN_A_CALENDAR = html`<a href="/desk/calendar">Your own calendar can remind you too.</a>`;

class DueListElement extends PageElement {
  static properties = { due: {} };

  constructor() {
    super();
    /** @type {DueSoon | null} */
    this.due = null;
    /** @type {DueSoon | null} the one that is listened to */
    this.heard = null;
  }

  /** @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    if (changed.has('due')) this.#listen(this.due);
  }

  connectedCallback() {
    super.connectedCallback();
    this.#listen(this.due);
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    this.#listen(null);
  }

  /** @param {DueSoon | null} to */
  #listen(to) {
    if (to === this.heard) return;
    this.heard?.removeEventListener('changed', this.#changed);
    to?.addEventListener('changed', this.#changed);
    this.heard = to;
  }

  #changed = () => this.requestUpdate();

  render() {
    const list = this.due?.list;
    if (!this.due || !list) return nothing;
    const today = localDay(new Date());
    const days = Math.max(SHOWN_DAYS, list.remind_days);
    const soon = dueWithin(list.dues, today, days);
    return html`
      <section class="store due" aria-labelledby="due-soon">
        <div class="store-head"><h2 id="due-soon">Due soon</h2></div>
        ${list.today === today ? nothing : html`<p>As the Desk knew it on ${longDay(list.today)}.</p>`}
        ${soon.length === 0 ? html`<p>Nothing ends or is due in the next ${days} days.</p>` : nothing}
        ${this.#days(soon.filter(({ day }) => daysUntil(today, day) <= OPEN_DAYS), today)}
        ${this.#later(soon.filter(({ day }) => daysUntil(today, day) > OPEN_DAYS), today)}
        ${this.#reminders(this.due, list.remind_days)}
      </section>`;
  }

  /** @param {readonly DueThing[]} dues @param {string} today */
  #days(dues, today) {
    const days = [...new Set(dues.map(({ day }) => day))];
    return days.map((day) => this.#day(day, today, dues.filter((due) => due.day === day)));
  }

  /** @param {readonly DueThing[]} dues @param {string} today */
  #later(dues, today) {
    const last = dues.at(-1)?.day;
    if (!last) return nothing;
    return html`<details><summary>${dues.length} more until ${longDay(last)}</summary>${this.#days(dues, today)}</details>`;
  }

  /** Her own papers and claims first; what is offered to everyone can be unfolded. @param {string} day @param {string} today @param {readonly DueThing[]} dues */
  #day(day, today, dues) {
    const offers = dues.filter(({ kind }) => OFFERS.has(kind));
    const away = daysUntil(today, day);
    return html`
      <h3>${longDay(day)} <span class="small">${away === 0 ? 'today' : away === 1 ? 'tomorrow' : `in ${away} days`}</span></h3>
      ${dues.length > offers.length ? items(dues.filter((due) => !offers.includes(due))) : nothing}
      ${offers.length > 0 ? html`
        <details><summary>${counted(offers.length, 'offer')} ${offers.length === 1 ? 'ends' : 'end'}<span class="unseen"> on ${longDay(day)}</span></summary>
          ${items(offers)}</details>` : nothing}`;
  }

  /** @param {DueSoon} due @param {number} remindDays */
  #reminders(due, remindDays) {
    const before = remindDays === 0 ? 'on the last day itself' : `${counted(remindDays, 'day')} before`;
    switch (due.reminding) {
      case 'unsupported':
        return html`<p class="reminding">This browser shows no reminders for this page; over https most do. ${IN_A_CALENDAR}</p>`;
      case 'not on the home screen':
        return html`<p class="reminding">An iPhone or iPad reminds only once this page is on its home screen: Share, then Add to
          Home Screen, and open it from there. ${IN_A_CALENDAR}</p>`;
      case 'denied':
        return html`<p class="reminding">Notifications of this page are blocked in the browser's or the phone's settings. Allow them
          there to be reminded here. ${IN_A_CALENDAR}</p>`;
      case 'on':
        return this.#button(true, `This phone reminds you ${before}: once a day at most, and of each thing once. It does so when
          this page is opened, and by itself where the browser wakes it.`);
      case 'off':
        return this.#button(false, due.unanswered
          ? 'The browser got no answer from you, so nothing is turned on. Tap again whenever you like.'
          : `This phone can remind you ${before}.`);
    }
  }

  /** One button for both ways, so that focus stays on it. @param {boolean} on @param {string} words */
  #button(on, words) {
    return html`
      <p class="reminding" role="status">${words}</p>
      <button class="plain wide" @click=${() => void (on ? this.due?.turnOff() : this.due?.turnOn())}>
        ${on ? 'Stop reminding me' : 'Remind me on this phone'}</button>`;
  }
}

/** @param {readonly DueThing[]} dues */
const items = (dues) => html`
  <ul class="plainlist">
    ${dues.map((due) => html`
      <li data-due=${keyOf(due)}><p>${due.words}</p>
        <p class="small">${due.act}
          ${CLAIMS.has(due.kind) && due.trip
            ? html`<a href=${settleOf(due.trip)}>Settle it at the Desk<span class="unseen">: ${due.words}</span></a>`
            : nothing}</p></li>`)}
  </ul>`;

customElements.define('due-list', DueListElement);
