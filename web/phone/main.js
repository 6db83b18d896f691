/**
 * The shell: carries a trip, routes by the part after `#`, tells the news. `opening.js` came before it.
 *
 * Routes: `#/aisle`, `#/register`, `#/trip`. Everything below gets its values as properties and
 * sends `report`, `undo`, `take-back` and `carry` up.
 */

import { html, nothing } from 'lit';
import { EngineBridge } from './engine-bridge.js';
import { painted, whenIdle } from './frames.js';
import { ghosts } from './ghosts.js';
import { firstScreenful, giveWay, isLastShown } from './last-shown.js';
import { firstTrip, onTrouble, opened, taken } from './opening.js';
import { counted } from './report-words.js';
import { Shell } from './shell.js';
import { TripInHand } from './trip-in-hand.js';

/** @import { Plan } from '../engine/types.js' */
/** @import { DueSoon } from './due-soon.js' */
/** @import { Carried, PhoneStore } from './phone-store.js' */
/** @import { PageElement } from './page-element.js' */
/** @import { PageKeeper } from './page-keeper.js' */
/** @import { Sync } from './sync.js' */

/** @type {Record<string, {word: string, load: () => Promise<unknown>}>} by route */
const SCREENS = {
  aisle: { word: 'Aisle', load: () => import('../aisle/aisle-screen.js') },
  register: { word: 'Register', load: () => import('../register/register-screen.js') },
  trip: { word: 'Trip', load: () => import('./trip-screen.js') },
};

/** Other tabs of this phone hear of new events here. */
const CHANNEL = 'counterfoil';

class CounterfoilPhone extends Shell {
  static properties = { editSeen: { state: true }, behind: { state: true } };

  constructor() {
    const behind = isLastShown();
    super(SCREENS, behind ? 'aisle' : routed(), CHANNEL);
    /** The lines that were shown last are in view: nothing is rendered before there are lines to take their place. */
    this.behind = behind;
    /** The trip whose change at home she has seen, and does not want yet. */
    this.editSeen = '';
    /** @type {PhoneStore | null} */
    this.store = null;
    /** @type {Sync | null} */
    this.sync = null;
    /** @type {PageKeeper | null} */
    this.worker = null;
    /** @type {DueSoon | null} */
    this.due = null;
    this.readerAsked = false;
    /** @type {Plan | null} whose first lines are kept as they are shown */
    this.planKept = null;
  }

  connectedCallback() {
    super.connectedCallback();
    this.tabs.addEventListener('message', () => void this.inHand?.refresh());
    this.on('carry', (trip) => this.#carry(trip));
    this.on('take-in-hand', (trip) => this.#takeInHand(trip));
    void this.#start();
  }

  shouldUpdate() {
    return !this.behind || this.alert !== '';
  }

  /** What the page showed before gives way, in the same frame. */
  async firstUpdated() {
    await /** @type {PageElement | null} */ (this.querySelector('aisle-screen'))?.updateComplete;
    giveWay(this);
    await this.arrive();
  }

  updated() {
    this.#keepShown();
  }

  async #start() {
    try {
      onTrouble((words) => this.say(words));
      this.store = await opened;
    } catch (error) {
      console.error(error);
      this.busy = false;
      this.say('This browser keeps nothing for this page (a private window?). Open it in an ordinary window to carry a trip.');
      return;
    }
    const inHand = new TripInHand(this.store, new EngineBridge(), new EngineBridge());
    this.inHand = inHand;
    inHand.addEventListener('changed', () => this.requestUpdate());
    await inHand.open(taken);
    if (this.behind) {
      this.planKept = inHand.plan;
      await SCREENS.aisle.load();
      this.behind = false;
    }
    await this.#reachOutside(inHand);
    this.busy = false;
    void this.lookAhead();
    whenIdle(() => {
      // Another tab may have noted something since the store was opened.
      void inHand.refresh();
      if (inHand.trip) void navigator.storage?.persist?.();
    });
  }

  /** The server and the browser's keeping of the page, once what lies on the phone is shown. @param {TripInHand} inHand */
  async #reachOutside(inHand) {
    // On a phone without a trip nothing is to be shown before, so it is all asked for at once.
    const asked = inHand.trip ? null : this.#ask(inHand);
    if (!inHand.trip) {
      const only = await firstTrip;
      if (only) await this.#takeUp(only);
      else if (this.screen !== 'trip') location.hash = '#/trip';
    }
    await painted();
    const [sync, worker] = await (asked ?? this.#ask(inHand));
    this.sync = sync;
    this.sync.addEventListener('changed', () => this.requestUpdate());
    this.sync.addEventListener('news', () => void inHand.refresh());
    this.sync.addEventListener('synced', () => void inHand.again());
    this.worker = worker;
    worker.addEventListener('changed', () => {
      this.requestUpdate();
      if (!worker.ready) return;
      void inHand.again();
      whenIdle(() => void this.#readerAhead());
    });
    void worker.start();
    this.sync.start();
  }

  /** Fetches what reaches outside, and asks what is due. @param {TripInHand} inHand @returns {Promise<[Sync, PageKeeper]>} */
  async #ask(inHand) {
    const { DueSoon, PageKeeper, Sync } = await outside();
    const sync = new Sync(inHand.store, () => inHand.trip);
    this.due = new DueSoon(sync);
    this.due.addEventListener('changed', () => this.requestUpdate());
    void this.due.start();
    return [sync, new PageKeeper()];
  }

  /** @param {string} trip */
  async #carry(trip) {
    this.busy = true;
    const { fetchTrip } = await outside();
    const carried = await fetchTrip(trip);
    this.busy = false;
    if (carried) await this.#takeUp(carried);
    else this.say('The trip could not be fetched. Try again where there is a network.');
  }

  /** @param {Carried} carried */
  async #takeUp(carried) {
    await this.noted(async () => this.store?.carry(carried));
    await this.inHand?.open();
    // The browser may keep it out of its clearing up.
    void navigator.storage?.persist?.();
    this.sync?.soon(0);
  }

  /** @param {string} trip one that is kept on the phone */
  async #takeInHand(trip) {
    await this.store?.takeInHand(trip);
    await this.inHand?.open();
    this.sync?.soon(0);
  }

  /** Keeps the first lines for the next start, once they are those of a plan that stands. */
  #keepShown() {
    const { inHand, store } = this;
    const { plan, basis } = inHand ?? {};
    const stands = () => this.screen === 'aisle' && inHand?.replanning === 'complete' && inHand.plan === plan && inHand.basis === basis;
    if (!store || !plan || !basis || plan === this.planKept || !stands()) return;
    this.planKept = plan;
    whenIdle(async () => {
      // Keeping a plan lets go of the lines that were kept before.
      await inHand?.planKept.catch(() => {});
      const parts = stands() ? firstScreenful(this) : [];
      // Without them the next start takes its time.
      if (parts.length > 0) store.keepShown(basis, parts).catch(() => {});
      else this.planKept = null;
    });
  }

  /** The server is told soon. */
  async heard() {
    await this.sync?.count();
    this.sync?.soon();
  }

  /** Once the page is kept on the phone, so is what reads barcodes. */
  async #readerAhead() {
    if (this.readerAsked) return;
    this.readerAsked = true;
    const { fetchReaderAhead } = await import('./barcode-reader.js');
    // Without a network, digits are typed until the next time.
    await fetchReaderAhead().catch(() => {});
  }

  async arrive() {
    await this.goTo(routed());
  }

  render() {
    const { inHand } = this;
    return html`
      <header class="head">
        <h1>${inHand?.trip?.title ?? 'Counterfoil'}</h1>
        ${this.#sent()}
      </header>
      <main id="screen" tabindex="-1" aria-label=${SCREENS[this.screen].word}>
        ${this.alert || inHand?.trouble
          ? html`<p class="alert" role="alert">${this.alert || inHand?.trouble}
              ${inHand?.trouble ? html`<a href="#/trip">Send or save what is unsent</a>` : nothing}</p>`
          : nothing}
        ${this.worker?.waiting
          ? html`<p class="note">A newer Counterfoil is ready. It waits until you say so.
              <button class="plain" @click=${() => this.worker?.update()}>Change over now</button></p>`
          : nothing}
        ${this.sync?.edited && this.screen !== 'trip' && this.editSeen !== inHand?.trip?.id
          ? html`<p class="note">The trip was changed at home. What you carry stays as it is until you choose.
              <a href="#/trip">Look at it</a>
              <button class="plain" @click=${() => { this.editSeen = inHand?.trip?.id ?? ''; }}>Keep this one</button></p>`
          : nothing}
        ${this.busy && !inHand?.trip && !this.alert
          ? ghosts(5, 'Fetching the trip')
          : inHand ? this.#screen(inHand) : nothing}
      </main>
      ${this.foot()}`;
  }

  /** @param {TripInHand} inHand */
  #screen(inHand) {
    const { carried, trip, plan, standing, replanning } = inHand;
    if (this.screen === 'trip' || !carried) {
      return html`<trip-screen .inHand=${inHand} .sync=${this.sync} .worker=${this.worker} .store=${this.store} .due=${this.due}
        .events=${inHand.events} .beat=${this.#beat()}></trip-screen>`;
    }
    return this.screen === 'register'
      ? html`<register-screen .trip=${trip} .plan=${plan} .standing=${standing} .replanning=${replanning}></register-screen>`
      : html`<aisle-screen .trip=${trip} .plan=${plan} .standing=${standing} .replanning=${replanning}
          .inHand=${inHand} .beat=${inHand.breakEvens.tags.size}></aisle-screen>`;
  }

  /** Changes with what the trip screen shows but does not get as a value. */
  #beat() {
    return [this.sync?.state, this.sync?.unsent, this.sync?.sharedSent, this.worker?.ready, this.due?.looked, this.inHand?.replanning].join(' ');
  }

  /** Whether all is sent, or the place where it will be told. */
  #sent() {
    const { sync } = this;
    if (!sync || !this.inHand?.trip) return html`<span class="sent"></span>`;
    const none = sync.state === 'waiting' ? 'No server' : 'All sent';
    return html`<a class="sent" href="#/trip">${sync.unsent > 0 ? `${counted(sync.unsent, 'note')} unsent` : none}</a>`;
  }
}

/** What the first lines do not wait for. */
const outside = () => import('./outside.js');

/** The screen that the address names. */
function routed() {
  const route = location.hash.replace(/^#\//, '').split('/')[0];
  return route in SCREENS ? route : 'aisle';
}

customElements.define('counterfoil-phone', CounterfoilPhone);
