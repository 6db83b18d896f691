/** The Trip: what is unsent, what was noted, which trip is carried, and the app itself. */

import { html, nothing } from 'lit';
import { repeat } from 'lit/directives/repeat.js';
import './due-list.js';
import { ghosts } from './ghosts.js';
import { PageElement } from './page-element.js';
import { counted, longDay, money, productName, sayReport, storeName } from './report-words.js';
import { removeSharedText, sharedTexts, wordsOf } from './shared-texts.js';
import { unsentFile } from './sync.js';
import { fetchTrips } from './trip-packages.js';

/** @import { Event as Noted } from '../engine/types.js' */
/** @import { DueSoon } from './due-soon.js' */
/** @import { PageKeeper } from './page-keeper.js' */
/** @import { Carried, PhoneStore } from './phone-store.js' */
/** @import { SharedText } from './shared-texts.js' */
/** @import { Sync } from './sync.js' */
/** @import { TripHead } from './trip-packages.js' */
/** @import { TripInHand } from './trip-in-hand.js' */

/** Milliseconds that the screen waits for the server before it shows what it knows: nothing jumps under a thumb. */
const AT_MOST = 800;

class TripScreen extends PageElement {
  static properties = {
    inHand: {}, sync: {}, worker: {}, store: {}, due: {}, events: {}, beat: {},
    offered: { state: true }, kept: { state: true }, persisted: { state: true }, shared: { state: true }, offersKnown: { state: true }, patient: { state: true },
  };

  constructor() {
    super();
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** @type {Sync | null} */
    this.sync = null;
    /** @type {PageKeeper | null} */
    this.worker = null;
    /** @type {PhoneStore | null} */
    this.store = null;
    /** @type {DueSoon | null} */
    this.due = null;
    /** @type {Noted[]} */
    this.events = [];
    this.beat = '';
    /** @type {TripHead[] | null} trips at the server, null while it has not answered */
    this.offered = null;
    /** @type {Carried[]} */
    this.kept = [];
    /** The browser has promised to keep the store. */
    this.persisted = false;
    /** @type {SharedText[]} */
    this.shared = [];
    /** The server has said which trips it has, or does not answer. */
    this.offersKnown = false;
    /** There is time yet to wait for what else the server says. */
    this.patient = true;
  }

  /** It is known what to show, as far as it can be told soon. */
  get looked() {
    return !this.patient || (this.offersKnown && this.due?.looked === true);
  }

  connectedCallback() {
    super.connectedCallback();
    // Back from the Desk, where a trip may have come in.
    addEventListener('focus', this.#look);
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    removeEventListener('focus', this.#look);
  }

  firstUpdated() {
    void this.#look();
  }

  #look = async () => {
    this.kept = (await this.store?.trips()) ?? [];
    this.persisted = (await navigator.storage?.persisted?.()) ?? false;
    await this.#readShared();
    setTimeout(() => { this.patient = false; }, AT_MOST);
    this.offered = await fetchTrips();
    this.offersKnown = true;
  };

  /** @param {Map<string, unknown>} changed */
  updated(changed) {
    if (changed.has('beat') && this.looked) void this.#readShared();
  }

  async #readShared() {
    this.shared = await sharedTexts().catch(() => []);
  }

  #keep = async () => {
    this.persisted = (await navigator.storage?.persist?.()) ?? false;
  };

  render() {
    if (!this.looked) return ghosts(3, 'Looking what is here');
    return html`${this.#sending()} ${this.#shared()} <due-list .due=${this.due}></due-list>
      ${this.#noted()} ${this.#rainChecks()} ${this.#trips()} ${this.#app()}`;
  }

  #sending() {
    const { sync } = this;
    if (!sync || !this.inHand?.trip) return nothing;
    const none = sync.unsent === 0;
    return html`
      <section class="store" aria-labelledby="sending">
        <div class="store-head"><h2 id="sending">${none ? 'All sent' : `${counted(sync.unsent, 'note')} unsent`}</h2></div>
        <p>${none
          ? 'The Desk knows everything that was noted here.'
          : 'They stay on the phone until the Desk has them, however long that takes.'}</p>
        ${sync.state === 'waiting' ? html`<p>The server does not answer; it is tried again by itself.</p>` : nothing}
        ${sync.edited ? html`<p class="note">The trip was changed at home since. What you carry stays as it is until you carry it anew below.</p>` : nothing}
        ${sync.clockNote ? html`<p class="note">${sync.clockNote}</p>` : nothing}
        ${sync.refusal ? html`<p class="alert">${sync.refusal}</p>` : nothing}
        ${none ? nothing : html`
          <button class="go wide" @click=${() => sync.soon(0)}>Send now</button>
          <button class="plain wide" @click=${() => void this.#save()}>Save unsent to a file</button>`}
      </section>`;
  }

  /** Offers pasted from elsewhere: on their way to the Desk, where they are read. */
  #shared() {
    const sent = this.sync?.sharedSent ?? 0;
    if (this.shared.length === 0 && sent === 0) return nothing;
    return html`
      <section class="store" aria-labelledby="shared">
        <div class="store-head"><h2 id="shared">Offers to read at the Desk</h2></div>
        <p role="status">${sent > 0 ? `${counted(sent, 'text')} sent there.` : nothing}
          ${this.shared.length > 0 ? 'They go to the Desk when it answers, and stay here until then.' : nothing}</p>
        <ul class="plainlist noted">
          ${repeat(this.shared, ({ id }) => id, (shared) => this.#sharedText(shared))}
        </ul>
      </section>`;
  }

  /** @param {SharedText} shared */
  #sharedText(shared) {
    const words = wordsOf(shared);
    return html`
      <li><p class="shared">${words}</p>
        <button class="plain" @click=${() => void navigator.clipboard?.writeText(words)}>Copy<span class="unseen">: ${words}</span></button>
        <button class="plain" @click=${() => void this.#dropShared(shared.id)}>Remove<span class="unseen">: ${words}</span></button></li>`;
  }

  /** @param {string} id */
  async #dropShared(id) {
    await removeSharedText(id);
    this.shared = this.shared.filter((each) => each.id !== id);
  }

  #noted() {
    const { inHand } = this;
    const trip = inHand?.trip;
    if (!inHand || !trip) return nothing;
    const standing = new Set(inHand.standingEvents.map((event) => event.id));
    const noted = this.events.filter(({ what }) => what.kind !== 'undone').reverse();
    return html`
      <section class="store" aria-labelledby="noted">
        <div class="store-head"><h2 id="noted">Noted on this trip</h2></div>
        ${noted.length === 0 ? html`<p>Nothing yet.</p>` : html`
          <ol class="plainlist noted" reversed>
            ${repeat(noted, (event) => event.id, (event) => html`
              <li>
                <p>${standing.has(event.id) ? sayReport(trip, event.what) : html`<s>${sayReport(trip, event.what)}</s> taken back`}
                  <span class="small"><time datetime=${event.at}>${clock(event.at)}</time>${event.device === inHand.device ? '' : ', on the other phone'}</span></p>
                ${standing.has(event.id)
                  ? html`<button class="plain" @click=${() => this.#takeBack(event)}>Take back<span class="unseen">: ${sayReport(trip, event.what)}</span></button>`
                  : nothing}
              </li>`)}
          </ol>`}
      </section>`;
  }

  /** What the stores owe her from this trip. */
  #rainChecks() {
    const { inHand } = this;
    const trip = inHand?.trip;
    const taken = (inHand?.standingEvents ?? []).flatMap(({ id, what }) =>
      what.kind === 'rain_check_taken' ? [{ id, check: what }] : []);
    if (!trip || taken.length === 0) return nothing;
    return html`
      <section class="store" aria-labelledby="rain-checks">
        <div class="store-head"><h2 id="rain-checks">Rain checks taken</h2></div>
        <p>Keep the slips: each is good for its own store, product and price.</p>
        <ul class="plainlist noted">
          ${repeat(taken, ({ id }) => id, ({ check }) => html`
            <li><p>${check.units} × ${productName(trip, check.product)} at ${money(trip, check.cents)}, ${storeName(trip, check.store)}
              <span class="small">${check.until ? `good until ${longDay(check.until, trip.day)}` : 'no last day was noted'}</span></p></li>`)}
        </ul>
      </section>`;
  }

  #trips() {
    const inHand = this.inHand?.carried;
    const fresh = (this.offered ?? []).filter((head) => head.package_version !== this.#keptVersion(head.id));
    const others = this.kept.filter((carried) => carried.id !== inHand?.id);
    return html`
      <section class="store" aria-labelledby="trips">
        <div class="store-head"><h2 id="trips">Trips</h2></div>
        <p>${inHand ? html`In hand: <b>${inHand.trip.title}</b>, ${longDay(inHand.trip.day)}.` : 'No trip in hand yet.'}</p>
        ${this.offered === null ? html`<p>The server does not answer, so no other trip can be fetched now.</p>` : nothing}
        ${this.offered?.length === 0 ? html`<p>There is no trip at the Desk yet.</p>` : nothing}
        <div class="choices">
          ${fresh.map((head) => html`
            <button class="choice" @click=${() => this.#ask('carry', head.id)}>
              ${head.id === inHand?.id ? 'Carry the changed trip: ' : 'Carry: '}${head.title}, ${longDay(head.day)}</button>`)}
          ${others.map(({ id, trip }) => html`
            <button class="choice" @click=${() => this.#ask('take-in-hand', id)}>Take in hand: ${trip.title}</button>`)}
        </div>
      </section>`;
  }

  #app() {
    const { worker } = this;
    return html`
      <section class="store" aria-labelledby="app">
        <div class="store-head"><h2 id="app">This page on the phone</h2></div>
        <p>${worker?.ready
          ? 'Kept on the phone: it opens without a network.'
          : worker?.missing || 'Being kept for use without a network. Wait for this before you leave.'}</p>
        <p>${this.persisted
          ? 'The browser has promised not to clear away what is noted here.'
          : 'The browser may clear away what is noted here when the phone runs full. Until it promises not to, send or save what is unsent.'}
          ${this.persisted ? nothing : html`<button class="plain wide" @click=${this.#keep}>Ask it to keep everything</button>`}</p>
        <p>Put it on the home screen (the browser's menu, or Share on an iPhone): some phones clear what they keep
          for a page that is not there after seven days.</p>
        <p><a href="/desk">To the Desk</a>, where the plan and the results are.</p>
      </section>`;
  }

  /** @param {string} id */
  #keptVersion(id) {
    return this.kept.find((carried) => carried.id === id)?.packageVersion;
  }

  /** @param {Noted} event */
  #takeBack(event) {
    this.dispatchEvent(new CustomEvent('take-back', { detail: [event], bubbles: true }));
  }

  /** @param {string} what @param {string} trip */
  #ask(what, trip) {
    this.dispatchEvent(new CustomEvent(what, { detail: trip, bubbles: true }));
    location.hash = '#/aisle';
  }

  async #save() {
    const file = unsentFile((await this.store?.unsent()) ?? []);
    const link = document.createElement('a');
    link.href = URL.createObjectURL(file);
    link.download = file.name;
    link.click();
    // The browser reads it after the click; a minute is ample.
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  }
}

/** The device's own clock, shown and never trusted. @param {string} at */
const clock = (at) => new Date(at).toLocaleTimeString('en', { hour: '2-digit', minute: '2-digit', hour12: false });

customElements.define('trip-screen', TripScreen);
