/** The trips: what she carries, what the site has besides, and this page on the phone. */

import { html, nothing } from 'lit';
import { ghosts } from '../phone/ghosts.js';
import { PageElement } from '../phone/page-element.js';
import { fetchSite } from './site.js';

/** @import { PublishedTrip, ReaderStore } from './reader-store.js' */
/** @import { Keeper, Site } from './site.js' */

/** Milliseconds that the screen waits for the host before it shows what it knows. */
const AT_MOST = 800;

class TripsScreen extends PageElement {
  static properties = { store: {}, keeper: {}, inHand: {}, beat: {}, carried: { state: true }, site: { state: true }, looked: { state: true } };

  constructor() {
    super();
    /** @type {ReaderStore | null} */
    this.store = null;
    /** @type {Keeper | null} */
    this.keeper = null;
    /** Slug of the trip in hand. */
    this.inHand = '';
    this.beat = false;
    /** @type {PublishedTrip[]} */
    this.carried = [];
    /** @type {Site | null} null while the host has not answered */
    this.site = null;
    this.looked = false;
  }

  firstUpdated() {
    void this.#look();
  }

  async #look() {
    this.carried = (await this.store?.trips()) ?? [];
    const asked = fetchSite();
    void asked.then((site) => { this.site = site; });
    await Promise.race([asked, new Promise((resolve) => { setTimeout(resolve, AT_MOST); })]);
    this.looked = true;
  }

  render() {
    if (!this.looked) return ghosts(3, 'Looking what is here');
    const { site, keeper } = this;
    const others = this.carried.filter(({ slug }) => slug !== this.inHand);
    const known = new Set(this.carried.map(({ slug }) => slug));
    const fresh = (site?.trips ?? []).filter(({ slug }) => !known.has(slug)).sort((a, b) => (a.day < b.day ? 1 : -1));
    const current = this.carried.find(({ slug }) => slug === this.inHand);
    return html`
      <section class="store" aria-labelledby="trips">
        <div class="store-head"><h2 id="trips">Trips</h2></div>
        <p>${current ? html`In hand: <b>${current.trip.title}</b>.` : 'No trip in hand yet.'}</p>
        ${site ? nothing : html`<p>The site does not answer, so no other trip can be fetched now.</p>`}
        <div class="choices">
          ${others.map(({ slug, trip }) => html`
            <button class="choice" @click=${() => this.#take(slug)}>Take in hand: ${trip.title}</button>`)}
          ${fresh.map(({ slug, title, summary }) => html`
            <button class="choice" @click=${() => this.#take(slug)}><span>Carry: ${title}</span> <span class="small">${summary}</span></button>`)}
        </div>
        <p><a href="index.html">Read all trips</a></p>
      </section>
      <section class="store" aria-labelledby="app">
        <div class="store-head"><h2 id="app">This page on your phone</h2></div>
        <p>${keeper?.ready
          ? 'Kept on the phone: it opens without a network.'
          : keeper?.missing || 'Being kept for use without a network. Wait for this before you leave.'}</p>
        <p>Put it on the home screen (the browser's menu, or Share on an iPhone): some phones clear what they keep
          for a page that is not there after seven days.</p>
      </section>`;
  }

  /** @param {string} slug */
  #take(slug) {
    location.hash = '#/mine';
    this.dispatchEvent(new CustomEvent('take', { detail: slug, bubbles: true }));
  }
}

customElements.define('trips-screen', TripsScreen);
