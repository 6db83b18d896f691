/**
 * The reader's shell: opens the store, takes a published trip up, routes by the part after `#`.
 *
 * Routes: `#/2026-12-05` (a trip's slug: taken up, then shown), `#/mine`, `#/aisle`, `#/register`, `#/trips`.
 * Elements below get values as properties and send `mine`, `take`, `report`, `undo` and `take-back` up.
 */

import { html, nothing } from 'lit';
import { EngineBridge } from '../phone/engine-bridge.js';
import { whenIdle } from '../phone/frames.js';
import { ghosts } from '../phone/ghosts.js';
import { Shell } from '../phone/shell.js';
import { TripInHand } from '../phone/trip-in-hand.js';
import { openReaderStore } from './reader-store.js';
import { Keeper, articleOf, documentOf, fetchPublished, folder } from './site.js';

/** @import { Mine } from './her-trip.js' */
/** @import { PublishedTrip, ReaderStore } from './reader-store.js' */

/** @type {Record<string, {word: string, load: () => Promise<unknown>}>} by route */
const SCREENS = {
  mine: { word: 'My trip', load: () => import('./mine-screen.js') },
  aisle: { word: 'Aisle', load: () => import('../aisle/aisle-screen.js') },
  register: { word: 'Register', load: () => import('../register/register-screen.js') },
  trips: { word: 'Trips', load: () => import('./trips-screen.js') },
};

class CounterfoilReader extends Shell {
  static properties = { published: { state: true }, mine: { state: true }, newer: { state: true } };

  constructor() {
    super(SCREENS, routed().screen || 'mine', `counterfoil-reader ${folder()}`);
    /** @type {ReaderStore | null} */
    this.store = null;
    /** @type {PublishedTrip | null} the trip in hand as published */
    this.published = null;
    /** @type {Mine | null} */
    this.mine = null;
    /** @type {PublishedTrip | null} the same trip as the host has it by now, if she does not carry that */
    this.newer = null;
    this.keeper = new Keeper(this.dataset.app ?? '');
  }

  connectedCallback() {
    super.connectedCallback();
    this.keeper.app = this.dataset.app ?? '';
    this.keeper.addEventListener('changed', () => this.requestUpdate());
    this.tabs.addEventListener('message', () => void this.#reopen());
    this.on('mine', (mine) => this.#plan(mine));
    this.on('take', (slug) => this.#take(slug));
    void this.#start();
  }

  /** What the shell showed before any script ran gives way. */
  firstUpdated() {
    this.querySelector(':scope > .beginning')?.remove();
  }

  async #start() {
    try {
      this.store = await openReaderStore(folder(), {
        blocked: () => this.say('Another tab holds an older page of this site open. Close it, then reload this one.'),
        blocking: () => this.say('A newer page of this site was opened in another tab. Reload this one.'),
        terminated: () => this.say('The browser closed the phone\'s store. Reload the page; what was noted is kept.'),
      });
    } catch (error) {
      console.error(error);
      this.busy = false;
      this.say('This browser keeps nothing for this page (a private window?). Open it in an ordinary window to carry a trip.');
      return;
    }
    const inHand = new TripInHand(this.store.phone, new EngineBridge(), new EngineBridge());
    inHand.addEventListener('changed', () => this.requestUpdate());
    this.inHand = inHand;
    const { slug } = routed();
    if (slug) await this.#take(slug);
    else await this.#reopen();
    this.busy = false;
    if (!inHand.carried && !this.alert) location.hash = '#/trips';
    void this.keeper.start().then(() => this.#keep());
    void this.lookAhead();
    whenIdle(() => void this.#look());
  }

  /** The trip that the store has in hand, with what is hers. */
  async #reopen() {
    await this.inHand?.open();
    const slug = this.inHand?.carried?.id;
    this.published = (slug && (await this.store?.published(slug))) || null;
    this.mine = slug ? ((await this.store?.mine(slug)) ?? null) : null;
  }

  /** Takes a published trip up, with what was hers of it before. @param {string} slug */
  async #take(slug) {
    const { store } = this;
    if (!store) return;
    this.busy = true;
    const known = await store.published(slug);
    // What she carries is never changed without her word: `newer` offers it.
    const published = known ?? (await fetchPublished(slug));
    if (published) {
      await this.noted(async () => store.take(published, await store.mine(slug)));
      await this.#reopen();
      void navigator.storage?.persist?.();
      void this.#keep();
      void this.#look();
    }
    this.busy = false;
    if (routed().slug) history.replaceState(null, '', published ? '#/mine' : '#/trips');
    await this.arrive();
    if (!published) this.say('This trip could not be fetched. Try again where there is a network.');
  }

  /** Asks the host whether the trip in hand was changed since. */
  async #look() {
    const slug = this.published?.slug;
    if (!slug) return;
    const found = await fetchPublished(slug);
    this.newer = found && found.slug === this.published?.slug && found.digest !== this.published.digest ? found : null;
  }

  /** Her word: the changed trip, with what is hers. */
  async #takeNewer() {
    const { store, newer, mine } = this;
    if (!store || !newer || !mine) return;
    this.newer = null;
    await this.noted(() => store.take(newer, { ...mine, version: mine.version + 1 }));
    await this.#reopen();
  }

  /** Plans the trip with what is hers now. @param {Mine} mine */
  async #plan(mine) {
    const { store, published } = this;
    if (!store || !published) return;
    this.mine = { ...mine, version: mine.version + 1 };
    await this.noted(() => store.take(published, { ...mine, version: mine.version + 1 }));
    await this.inHand?.open();
  }

  /** Keeps the trip's own pages for reading without a network. */
  async #keep() {
    const slug = this.published?.slug;
    if (slug) await this.keeper.keep(['index.html', 'site.json', articleOf(slug), documentOf(slug)]);
  }

  async arrive() {
    const { slug, screen } = routed();
    if (slug) {
      await this.#take(slug);
      return;
    }
    const next = screen || 'mine';
    if (next !== this.screen) this.alert = '';
    await this.goTo(next);
  }

  render() {
    const { inHand } = this;
    return html`
      <header class="head">
        <h1>${inHand?.trip?.title ?? document.title.replace(/^Carry · /, '')}</h1>
        ${this.published
          ? html`<a class="sent" href=${articleOf(this.published.slug)}>Read it</a>` : html`<span class="sent"></span>`}
      </header>
      <main id="screen" tabindex="-1" aria-label=${SCREENS[this.screen].word}>
        ${this.alert || inHand?.trouble ? html`<p class="alert" role="alert">${this.alert || inHand?.trouble}</p>` : nothing}
        ${this.keeper.waiting ? html`
          <p class="note">A newer version of this page is ready. It waits until you say so.
            <button class="plain" @click=${() => this.keeper.update()}>Change over now</button></p>` : nothing}
        ${this.newer ? html`
          <p class="note">The planner changed this trip. What you carry stays as it is until you choose.
            <button class="plain" @click=${this.#takeNewer}>Take the change</button>
            <button class="plain" @click=${() => { this.newer = null; }}>Keep this one</button></p>` : nothing}
        ${this.busy && !inHand?.trip ? ghosts(4, 'Fetching the trip') : inHand ? this.#screen(inHand) : nothing}
      </main>
      ${this.foot()}`;
  }

  /** @param {TripInHand} inHand */
  #screen(inHand) {
    const { trip, plan, standing, replanning } = inHand;
    if (this.screen === 'trips' || !trip || !this.published || !this.mine) {
      return html`<trips-screen .store=${this.store} .keeper=${this.keeper} .inHand=${this.published?.slug ?? ''}
        .beat=${this.keeper.ready}></trips-screen>`;
    }
    switch (this.screen) {
      case 'aisle':
        return html`<aisle-screen .trip=${trip} .plan=${plan} .standing=${standing} .replanning=${replanning}
          .inHand=${inHand} .beat=${inHand.breakEvens.tags.size}></aisle-screen>`;
      case 'register':
        return html`<register-screen .trip=${trip} .plan=${plan} .standing=${standing} .replanning=${replanning}></register-screen>`;
      default:
        return html`<mine-screen .published=${this.published} .mine=${this.mine} .trip=${trip} .plan=${plan}
          .standing=${standing} .replanning=${replanning}></mine-screen>`;
    }
  }
}

/** What the address names: one of our screens, or the slug of a trip to take up. */
function routed() {
  const route = decodeURIComponent(location.hash.replace(/^#\//, '').split('/')[0].replace(/^#/, ''));
  const screen = Object.hasOwn(SCREENS, route) ? route : '';
  return { screen, slug: screen ? '' : route };
}

customElements.define('counterfoil-reader', CounterfoilReader);
