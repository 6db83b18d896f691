/**
 * The trip in hand: trip + events + plan, and the one way to report what happened.
 *
 * A report becomes an event in the phone's store first; then the fold is repainted; then the
 * engine replans, while the plan before it stays in view. `changed` is dispatched after each.
 */

import { Superseded } from './engine-bridge.js';
import { aboutFirst, totalsChanged, whatChanged } from './changes.js';
import { asFound } from './as-found.js';
import { BreakEvens } from './break-evens.js';
import { fold, standingEvents } from './fold.js';
import { painted } from './frames.js';
import { aisleOf } from './lines.js';
import { basisOf, inOrder } from './phone-store.js';
import { PlanningAhead } from './planning-ahead.js';
import { Proving } from './proving.js';
import { namesIn, ofOneTap, sayReports } from './report-words.js';

/** @import { Event, Happened, Plan, Report, Swap, Trip } from '../engine/types.js' */
/** @import { EngineBridge } from './engine-bridge.js' */
/** @import { Carried, PhoneStore, Reported, Taken } from './phone-store.js' */

/**
 * What the last tap did, in words, until the next one.
 * @typedef {object} News
 * @property {string} cause what was reported
 * @property {string[]} totals how out of pocket and net moved
 * @property {Plan | null} before the plan that was in view
 * @property {string[]} sentences what else the replan changed
 * @property {boolean} waiting the replan is still on its way
 */

/** @typedef {'initial' | 'pending' | 'complete' | 'error'} Replanning */

export class TripInHand extends EventTarget {
  /**
   * @param {PhoneStore} store
   * @param {EngineBridge} engine plans and swaps, which the shopper waits for
   * @param {EngineBridge} aside a worker of its own for what takes long and must not be in the way
   */
  constructor(store, engine, aside) {
    super();
    this.store = store;
    this.engine = engine;
    this.aside = aside;
    /** @type {Carried | null} */
    this.carried = null;
    /** @type {Event[]} */
    this.events = [];
    this.standing = fold([]);
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {Replanning} */
    this.replanning = 'initial';
    /** @type {News | null} */
    this.news = null;
    /** @type {string} why the last report could not be kept, '' when it could */
    this.trouble = '';
    this.device = '';
    /** @type {Promise<unknown>} that nothing is being written */
    this.written = Promise.resolve();
    /** @type {Promise<unknown>} that the plan in view is kept, with which lines that were shown before are let go */
    this.planKept = Promise.resolve();
    /** @type {{carried: Carried | null, events: Event[], trip: Trip | null}} the last answer of `trip` */
    this.found = { carried: null, events: [], trip: null };
    /** @type {Carried | null} whose plan the engine knows as the one that she left home with */
    this.homeTold = null;
    this.proving = new Proving(aside);
    this.proving.addEventListener('proved', (event) => void this.#proved(/** @type {CustomEvent<Plan>} */ (event).detail));
    this.proving.addEventListener('changed', () => this.#planAhead());
    this.ahead = new PlanningAhead(aside);
    this.breakEvens = new BreakEvens(this);
    for (const each of [this.proving, this.breakEvens]) each.addEventListener('changed', () => this.#tell());
  }

  /** The trip as carried, with what was found since. */
  get trip() {
    const { carried, events } = this;
    if (this.found.carried !== carried || this.found.events !== events) {
      this.found = { carried, events, trip: carried && asFound(carried.trip, standingEvents(events)) };
    }
    return this.found.trip;
  }

  /** The events that still count. */
  get standingEvents() {
    return standingEvents(this.events);
  }

  /** @returns {Happened} what the engine is asked with */
  get happened() {
    return { entries: this.events.map((event) => [event.id, event.what]) };
  }

  /** Takes up the trip that the store has in hand, with its last plan at once. @param {Promise<Taken>} [taken] */
  async open(taken = this.store.taken()) {
    const { device, carried, events, kept } = await taken;
    this.device = device;
    this.carried = carried;
    this.events = events;
    this.standing = fold(events);
    this.news = null;
    this.plan = kept?.plan ?? carried?.plan ?? null;
    this.replanning = 'initial';
    this.#leaveWork();
    if (!carried) {
      this.#tell();
      return;
    }
    // The plan that she left home with stands until something happens.
    const stands = kept ? kept.basis === this.basis : this.plan !== null && this.events.length === 0;
    if (stands) this.replanning = 'complete';
    // Closed before the proof was there.
    if (stands && kept) this.proving.begin(kept.plan, carried.trip, this.happened, this.#home);
    if (stands) this.#planAhead();
    this.#tell();
    if (!stands) void this.#replan(null);
  }

  /**
   * Asks for the plan that stands already, so that the engine is awake at the first tap and has solved what lies
   * about it; nothing is shown.
   */
  wake() {
    const { carried, happened, replanning } = this;
    if (!carried || replanning !== 'complete') return;
    // Trouble is told of when the engine is needed.
    this.#ask(carried).then(() => this.engine.warmed(carried.trip, happened)).catch(() => {});
  }

  /**
   * Writes what happened and replans. False when it could not be kept; `trouble` says why.
   * @param {readonly Reported[]} reports
   * @returns {Promise<boolean>}
   */
  async report(reports) {
    if (!this.carried) return false;
    const writing = this.#write(this.carried.id, reports);
    this.written = writing;
    const written = await writing;
    if (written) void this.#replan(written.map((event) => event.what));
    return written !== null;
  }

  /** The reports as events, kept and taken in; null when they could not be kept. @param {string} trip @param {readonly Reported[]} reports */
  async #write(trip, reports) {
    try {
      const written = await this.store.append(trip, reports);
      // Unless another trip was taken in hand meanwhile.
      if (this.carried?.id === trip) this.#takeIn(written);
      this.trouble = '';
      return written;
    } catch (error) {
      this.trouble = notKept(error);
      this.#tell();
      return null;
    }
  }

  /** What undo would take back: the events of this device's last tap, in words; '' for nothing. */
  get undoWords() {
    const tap = this.#lastTap();
    return this.trip && tap.length > 0 ? sayReports(this.trip, tap.map((event) => event.what)) : '';
  }

  /** Takes back this device's last tap. */
  async undo() {
    await this.takeBack(this.#lastTap());
  }

  /** Takes back these events and what else their taps wrote, the last one first. @param {readonly Event[]} events */
  async takeBack(events) {
    const taps = new Set(events.flatMap((event) => ofOneTap(this.standingEvents, event)));
    if (taps.size === 0) return;
    /** @type {Report[]} */
    const reports = [...taps].reverse().map((event) => ({ kind: 'undone', event: event.id }));
    await this.report(reports);
  }

  /** Reads the events again, after others' came in, and replans if there are new ones. */
  async refresh() {
    const { carried } = this;
    if (!carried) return;
    const events = await this.store.events(carried.id);
    // What is being written here is told in its own words.
    await this.written;
    if (this.carried !== carried) return;
    const fresh = this.#takeIn(events);
    if (fresh.length === 0) return;
    const own = fresh.every((event) => event.device === this.device);
    await this.#replan([], own ? 'News from another window' : 'News from the other phone');
  }

  /** Replans where that failed before: what the engine needs may be there by now. */
  async again() {
    if (this.replanning === 'error') await this.#replan([], this.news?.cause);
  }

  /** What to do about an empty shelf. @param {string} store @param {string} product @returns {Promise<Swap[]>} */
  async swaps(store, product) {
    return this.carried ? this.engine.swaps(this.carried.trip, this.happened, store, product) : [];
  }

  /** The highest tag at which buying is still right. @param {string} store @param {string} product */
  async breakEven(store, product) {
    return this.carried ? this.aside.breakEven(this.carried.trip, this.happened, store, product) : null;
  }

  /** What one unit more or fewer of a want does to the trip. @param {string} want @param {number} units to buy now */
  async oneMore(want, units) {
    if (!this.carried) return { more: null, fewer: null };
    return this.aside.oneMore(this.carried.trip, this.happened, want, units);
  }

  /** The shopper has read the news. */
  dismiss() {
    this.news = null;
    this.trouble = '';
    this.#tell();
  }

  /** The plan that she left home with, where it is proven. */
  get #home() {
    return this.carried?.plan?.proof.optimal ? this.carried.plan : undefined;
  }

  /** Asks for the plan of all that happened, with what the engine cannot know by itself. @param {Carried} carried */
  async #ask(carried) {
    const known = {
      home: this.homeTold === carried ? undefined : this.#home,
      proven: this.proving.proven.splice(0),
      made: this.ahead.madeFor(this.events.at(-1)?.what),
    };
    const plan = await this.engine.plan(carried.trip, this.happened, known);
    this.homeTold = carried;
    return plan;
  }

  /** Adds events of the store to what is known; those that were not. @param {readonly Event[]} events */
  #takeIn(events) {
    const known = new Set(this.events.map((event) => event.id));
    const fresh = events.filter((event) => !known.has(event.id));
    if (fresh.length > 0) {
      this.events = inOrder([...this.events, ...fresh]);
      this.standing = fold(this.events);
    }
    return fresh;
  }

  /**
   * Replans, while the plan before it stays in view, and tells what changed.
   * @param {readonly Report[] | null} reports null at the start: nothing was tapped, nothing to tell
   * @param {string} [cause] in place of what the reports say
   */
  async #replan(reports, cause = this.#causeOf(reports)) {
    const { carried, plan: before, basis } = this;
    if (!carried) return;
    // A tap during a replan: the plan that it is compared with is still the one in view.
    this.news = cause === '' ? null : { cause, before, totals: [], sentences: [], waiting: true };
    this.#leaveWork();
    if (reports !== null || this.replanning !== 'complete') this.replanning = 'pending';
    this.#tell();
    try {
      const plan = await this.#ask(carried);
      if (basis !== this.basis) return;
      this.plan = plan;
      this.replanning = 'complete';
      if (this.news) this.news = this.#newsOf(carried, cause, before, plan, reports ?? []);
      this.proving.begin(plan, carried.trip, this.happened, this.#home);
      this.#planAhead();
      this.#tell();
      this.planKept = this.#keep(carried, basis, plan);
      await this.planKept;
    } catch (error) {
      if (error instanceof Superseded || basis !== this.basis) return;
      console.error(error);
      this.replanning = 'error';
      if (this.news) this.news = { ...this.news, waiting: false };
      this.#tell();
    }
  }

  /** What the worker aside does for the plan in view is not wanted any more. */
  #leaveWork() {
    this.proving.leave();
    this.ahead.leave();
  }

  /** Plans what may come next, once it is known how good the plan in view is. */
  #planAhead() {
    const { carried, plan, trip, happened, standing } = this;
    if (!carried || !plan || !trip || this.proving.checking) return;
    const sections = () => aisleOf(trip, plan, standing);
    this.ahead.begin({ plan, trip: carried.trip, happened, home: this.#home, sections });
  }

  /** Takes the proof of the plan in view, and says so where a better one was found. @param {Plan} plan */
  async #proved(plan) {
    const { carried, plan: before, basis } = this;
    if (!carried) return;
    this.plan = plan;
    const news = this.#newsOf(carried, 'Checked again: there is a better plan', before, plan, []);
    if (news.totals.length + news.sentences.length > 0) this.news = news;
    this.#planAhead();
    this.planKept = this.#keep(carried, basis, plan);
    this.#tell();
    await this.planKept;
  }

  /** Keeps a plan for the next start, once it is on the screen. @param {Carried} carried @param {string} basis @param {Plan} plan */
  async #keep(carried, basis, plan) {
    await painted();
    if (this.plan === plan) await this.store.keepPlan({ trip: carried.id, basis, plan });
  }

  /** @param {Carried} carried @param {string} cause @param {Plan | null} before @param {Plan} plan @param {readonly Report[]} reports @returns {News} */
  #newsOf(carried, cause, before, plan, reports) {
    const trip = this.trip ?? carried.trip;
    return {
      cause,
      before,
      totals: before ? totalsChanged(trip, before, plan) : [],
      sentences: before ? aboutFirst(namesIn(trip, reports), whatChanged(trip, before, plan, this.standing)) : [],
      waiting: false,
    };
  }

  /** Which trip and events a plan stands on. */
  get basis() {
    return this.carried ? basisOf(this.carried.trip, this.events) : '';
  }

  #lastTap() {
    const standing = standingEvents(this.events);
    const last = standing.findLast((event) => event.device === this.device);
    return last ? ofOneTap(standing, last) : [];
  }

  /** The reports that these `undone` ones name, in the order they were made. @param {readonly Report[]} reports */
  #named(reports) {
    const ids = new Set(reports.map((what) => (what.kind === 'undone' ? what.event : '')));
    return this.events.filter((event) => ids.has(event.id)).map((event) => event.what);
  }

  /** What was tapped, in words; '' for nothing. @param {readonly Report[] | null} reports */
  #causeOf(reports) {
    if (!this.trip || !reports || reports.length === 0) return '';
    return reports[0].kind === 'undone'
      ? `Taken back: ${sayReports(this.trip, this.#named(reports))}`
      : sayReports(this.trip, reports);
  }

  #tell() {
    this.dispatchEvent(new CustomEvent('changed'));
  }
}

/** Why an event could not be written, for the shopper. @param {unknown} error */
function notKept(error) {
  if (error instanceof DOMException && error.name === 'QuotaExceededError') {
    return 'The phone\'s storage is full, so this was not noted. Nothing else is lost. Free some space, then tap again.';
  }
  return 'The phone could not note this. Nothing else is lost. Tap again; if it stays, reload the page.';
}
