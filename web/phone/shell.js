/**
 * What the household's shell and the reader's share: a screen by the part after `#`, what the elements below ask
 * for, the foot with news, totals and ways to the screens, and what is told to other tabs.
 */

import { html, nothing } from 'lit';
import { whenIdle } from './frames.js';
import { newsStrip, spokenNews } from './news-strip.js';
import { PageElement } from './page-element.js';
import { money } from './report-words.js';

/** @import { TripInHand } from './trip-in-hand.js' */

/** @typedef {Record<string, {word: string, load: () => Promise<unknown>}>} Screens by route */

/** Milliseconds that a first visit is left to itself. */
const SETTLING = 1_500;

export class Shell extends PageElement {
  /** @type {import('lit').PropertyDeclarations} */
  static properties = { screen: { state: true }, alert: { state: true }, busy: { state: true } };

  /** @param {Screens} screens @param {string} screen the first one @param {string} channel where other tabs of this phone hear of new events */
  constructor(screens, screen, channel) {
    super();
    this.screens = screens;
    this.screen = screen;
    void screens[screen].load();
    /** What stands in the way of everything else, in words. */
    this.alert = '';
    /** A trip is on its way to the phone. */
    this.busy = true;
    /** @type {TripInHand | null} */
    this.inHand = null;
    this.tabs = new BroadcastChannel(channel);
  }

  connectedCallback() {
    super.connectedCallback();
    addEventListener('hashchange', () => void this.arrive());
    addEventListener('appinstalled', () => void navigator.storage?.persist?.());
    this.on('report', (reports) => this.noted(() => this.inHand?.report(reports)));
    this.on('undo', () => this.noted(() => this.inHand?.undo()));
    this.on('take-back', (events) => this.noted(() => this.inHand?.takeBack(events)));
  }

  /** Listens to what the elements below ask for. @param {string} what @param {(detail: any) => Promise<void>} act */
  on(what, act) {
    this.addEventListener(what, (event) => void act(/** @type {CustomEvent} */ (event).detail));
  }

  /** The address changed. */
  async arrive() {}

  /** Something was noted on this phone. */
  async heard() {}

  /** Runs a change of the store and lets the other tabs know. @param {() => Promise<unknown> | undefined} change */
  async noted(change) {
    try {
      await change();
      this.tabs.postMessage('noted');
      await this.heard();
    } catch (error) {
      console.error(error);
      this.say('The phone could not keep this. Reload the page and try again; what was noted before is kept.');
    }
  }

  /** A new screen starts at its top, with focus there for those who do not see it change. @param {string} screen */
  async goTo(screen) {
    const before = this.screen;
    this.screen = screen;
    void this.screens[screen].load();
    if (before === screen) return;
    this.inHand?.dismiss();
    await this.updateComplete;
    this.querySelector('main')?.scrollTo(0, 0);
    this.querySelector('main')?.focus({ preventScroll: true });
  }

  /** @param {string} words */
  say(words) {
    this.alert = words;
  }

  /**
   * Fetches the other screens and wakes the engine, once nothing else is to do. On a first visit the network is
   * the page's own before that.
   */
  async lookAhead() {
    if (!navigator.serviceWorker?.controller) await new Promise((resolve) => { setTimeout(resolve, SETTLING); });
    whenIdle(() => {
      for (const { load } of Object.values(this.screens)) void load();
      this.inHand?.wake();
    });
  }

  /** News, totals, and the ways to the screens. */
  foot() {
    const { inHand } = this;
    return html`
      <footer class="foot">
        ${inHand?.trip ? newsStrip(inHand) : nothing}
        ${inHand?.trip && inHand.plan ? totals(inHand) : this.busy ? noTotals() : nothing}
        <nav class="tabs" aria-label="Screens">
          ${Object.entries(this.screens).map(([route, { word }]) => html`
            <a href="#/${route}" aria-current=${route === this.screen ? 'page' : nothing}>${word}</a>`)}
        </nav>
      </footer>
      <p class="spoken" role="status">${inHand ? spokenNews(inHand) : ''}</p>`;
  }
}

/** The place of the totals that are about to be there. */
const noTotals = () => html`
  <dl class="totals" aria-hidden="true">
    ${['Out of pocket', 'Net'].map((name) => html`<div><dt>${name}</dt><dd><b class="ghost-words">$00.00</b></dd></div>`)}
  </dl>`;

/** @param {TripInHand} inHand */
function totals({ trip, plan, news, replanning }) {
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
