/**
 * The shell: opens the store, carries a trip, routes by the part after `#`, tells the news.
 *
 * Routes: `#/aisle`, `#/register`, `#/trip`. Everything below gets its values as properties and
 * sends `report`, `undo`, `take-back` and `carry` up.
 */

import { html, nothing } from 'lit';
import { EngineBridge } from './engine-bridge.js';
import { ghosts } from './ghosts.js';
import { newsStrip, spokenNews } from './news-strip.js';
import { PageElement } from './page-element.js';
import { openPhoneStore } from './phone-store.js';
import { counted, money } from './report-words.js';
import { TripInHand } from './trip-in-hand.js';

/** @import { DueSoon } from './due-soon.js' */
/** @import { PhoneStore } from './phone-store.js' */
/** @import { ServiceWorkerBridge } from './service-worker-bridge.js' */
/** @import { Sync } from './sync.js' */

/** @type {Record<string, {word: string, load: () => Promise<unknown>}>} by route */
const SCREENS = {
  aisle: { word: 'Aisle', load: () => import('../aisle/aisle-screen.js') },
  register: { word: 'Register', load: () => import('../register/register-screen.js') },
  trip: { word: 'Trip', load: () => import('./trip-screen.js') },
};

/** Other tabs of this phone hear of new events here. */
const CHANNEL = 'counterfoil';

class CounterfoilPhone extends PageElement {
  static properties = { screen: { state: true }, alert: { state: true }, fetching: { state: true }, editSeen: { state: true } };

  constructor() {
    super();
    this.screen = routed();
    void SCREENS[this.screen].load();
    /** What stands in the way of everything else, in words. */
    this.alert = '';
    /** A trip is on its way to the phone. */
    this.fetching = true;
    /** The trip whose change at home she has seen, and does not want yet. */
    this.editSeen = '';
    /** @type {PhoneStore | null} */
    this.store = null;
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** @type {Sync | null} */
    this.sync = null;
    /** @type {ServiceWorkerBridge | null} */
    this.worker = null;
    /** @type {DueSoon | null} */
    this.due = null;
    this.readerAsked = false;
    this.tabs = new BroadcastChannel(CHANNEL);
  }

  connectedCallback() {
    super.connectedCallback();
    addEventListener('hashchange', () => this.#arrive());
    addEventListener('appinstalled', () => void navigator.storage?.persist?.());
    this.tabs.addEventListener('message', () => void this.inHand?.refresh());
    this.#on('report', (reports) => this.#noted(() => this.inHand?.report(reports)));
    this.#on('undo', () => this.#noted(() => this.inHand?.undo()));
    this.#on('take-back', (events) => this.#noted(() => this.inHand?.takeBack(events)));
    this.#on('carry', (trip) => this.#carry(trip));
    this.#on('take-in-hand', (trip) => this.#takeInHand(trip));
    void this.#start();
  }

  /** What the shell showed before any script ran gives way. */
  firstUpdated() {
    this.querySelector(':scope > .beginning')?.remove();
  }

  /** Listens to what the elements below ask for. @param {string} what @param {(detail: any) => Promise<void>} act */
  #on(what, act) {
    this.addEventListener(what, (event) => void act(/** @type {CustomEvent} */ (event).detail));
  }

  async #start() {
    try {
      this.store = await openPhoneStore({
        blocked: () => this.#say('Another tab holds an older Counterfoil open. Close it, then reload this one.'),
        blocking: () => this.#say('A newer Counterfoil was opened in another tab. Reload this one.'),
        terminated: () => this.#say('The browser closed the phone\'s store. Reload the page; what was noted is kept.'),
      });
    } catch (error) {
      console.error(error);
      this.fetching = false;
      this.#say('This browser keeps nothing for this page (a private window?). Open it in an ordinary window to carry a trip.');
      return;
    }
    const inHand = new TripInHand(this.store, new EngineBridge(), new EngineBridge());
    this.inHand = inHand;
    inHand.addEventListener('changed', () => this.requestUpdate());
    await inHand.open();
    await this.#reachOutside(inHand);
    this.fetching = false;
    whenIdle(() => {
      for (const { load } of Object.values(SCREENS)) void load();
      inHand.wake();
    });
    // Asked for once a trip is here: the browser may keep it out of its clearing up.
    if (inHand.trip) void navigator.storage?.persist?.();
  }

  /** The server and the browser's keeping of the page, once what lies on the phone is shown. @param {TripInHand} inHand */
  async #reachOutside(inHand) {
    await painted();
    const { DueSoon, ServiceWorkerBridge, Sync } = await outside();
    this.sync = new Sync(inHand.store, () => inHand.trip);
    this.sync.addEventListener('changed', () => this.requestUpdate());
    this.sync.addEventListener('news', () => void inHand.refresh());
    if (!inHand.trip) await this.#carryTheOnlyOne();
    const worker = new ServiceWorkerBridge();
    this.worker = worker;
    worker.addEventListener('changed', () => {
      this.requestUpdate();
      if (worker.ready) whenIdle(() => void this.#readerAhead());
    });
    void worker.start();
    this.due = new DueSoon(this.sync);
    void this.due.start();
    this.sync.start();
  }

  /** With one trip at the server that is not over there is nothing to choose. */
  async #carryTheOnlyOne() {
    const { fetchOnlyTrip } = await outside();
    const only = await fetchOnlyTrip();
    if (only) await this.#carry(only.id);
    else if (this.screen !== 'trip') location.hash = '#/trip';
  }

  /** @param {string} trip */
  async #carry(trip) {
    this.fetching = true;
    const { fetchTrip } = await outside();
    const carried = await fetchTrip(trip);
    this.fetching = false;
    if (!carried || !this.store) {
      this.#say('The trip could not be fetched. Try again where there is a network.');
      return;
    }
    await this.#noted(async () => this.store?.carry(carried));
    await this.inHand?.open();
    this.sync?.soon(0);
  }

  /** @param {string} trip one that is kept on the phone */
  async #takeInHand(trip) {
    await this.store?.takeInHand(trip);
    await this.inHand?.open();
    this.sync?.soon(0);
  }

  /** Runs a change of the store and lets the server and the other tabs know. @param {() => Promise<unknown> | undefined} change */
  async #noted(change) {
    try {
      await change();
      this.tabs.postMessage('noted');
      await this.sync?.count();
      this.sync?.soon();
    } catch (error) {
      console.error(error);
      this.#say('The phone could not keep this. Reload the page and try again; what was noted before is kept.');
    }
  }

  /** Once the page is kept on the phone, so is what reads barcodes. */
  async #readerAhead() {
    if (this.readerAsked) return;
    this.readerAsked = true;
    const { fetchReaderAhead } = await import('./barcode-reader.js');
    // Without a network, digits are typed until the next time.
    await fetchReaderAhead().catch(() => {});
  }

  /** A new screen starts at its top, with focus there for those who do not see it change. */
  #arrive() {
    const before = this.screen;
    this.screen = routed();
    void SCREENS[this.screen].load();
    if (before === this.screen) return;
    this.inHand?.dismiss();
    void this.updateComplete.then(() => {
      this.querySelector('main')?.scrollTo(0, 0);
      this.querySelector('main')?.focus({ preventScroll: true });
    });
  }

  /** @param {string} words */
  #say(words) {
    this.alert = words;
  }

  render() {
    const { inHand } = this;
    return html`
      <header class="head">
        <h1>${inHand?.trip?.title ?? 'Counterfoil'}</h1>
        <a class="sent" href="#/trip">${this.#sentWords()}</a>
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
        ${this.fetching && !inHand?.trip && !this.alert
          ? ghosts(5, 'Fetching the trip')
          : inHand ? this.#screen(inHand) : nothing}
      </main>
      <footer class="foot">
        ${inHand?.trip ? newsStrip(inHand) : nothing}
        ${inHand?.trip && inHand.plan ? this.#totals(inHand) : nothing}
        <nav class="tabs" aria-label="Screens">
          ${Object.entries(SCREENS).map(([route, { word }]) => html`
            <a href="#/${route}" aria-current=${route === this.screen ? 'page' : nothing}>${word}</a>`)}
        </nav>
      </footer>
      <p class="spoken" role="status">${inHand ? spokenNews(inHand) : ''}</p>`;
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
    return [this.sync?.state, this.sync?.unsent, this.sync?.sharedSent, this.worker?.ready, this.inHand?.replanning].join(' ');
  }

  /** @param {TripInHand} inHand */
  #totals({ trip, plan, news, replanning }) {
    if (!trip || !plan) return nothing;
    const before = news?.before?.totals;
    const figure = (/** @type {string} */ name, now = 0, was = now) => html`
      <div>
        <dt>${name}</dt>
        <dd><b>${money(trip, now)}</b>${was === now ? nothing : html` <span class="was">was ${money(trip, was)}</span>`}</dd>
      </div>`;
    return html`
      <dl class="totals" data-replanning=${replanning} aria-busy=${replanning === 'pending'}>
        ${figure('Out of pocket', plan.totals.out_of_pocket_cents, before?.out_of_pocket_cents)}
        ${figure('Net', plan.totals.net_cents, before?.net_cents)}
      </dl>`;
  }

  #sentWords() {
    const { sync } = this;
    if (!sync || !this.inHand?.trip) return '';
    if (sync.unsent > 0) return `${counted(sync.unsent, 'note')} unsent`;
    return sync.state === 'waiting' ? 'No server' : 'All sent';
  }
}

/** What the first lines do not wait for. */
const outside = () => import('./outside.js');

/** Resolves when what was rendered is on the screen. @returns {Promise<void>} */
const painted = () => new Promise((resolve) => {
  // A hidden page has no frames.
  if (document.visibilityState === 'hidden') resolve();
  else requestAnimationFrame(() => setTimeout(resolve));
});

/** Runs what may wait once the page is painted and at rest. @param {() => void} act */
function whenIdle(act) {
  if ('requestIdleCallback' in window) requestIdleCallback(act, { timeout: 3_000 });
  else setTimeout(act, 1_000);
}

/** The screen that the address names. */
function routed() {
  const route = location.hash.replace(/^#\//, '').split('/')[0];
  return route in SCREENS ? route : 'aisle';
}

customElements.define('counterfoil-phone', CounterfoilPhone);
