/**
 * One bridge owns the engine's worker: it asks, queues, gives up and starts afresh.
 *
 * Planning is asked for after every change, so only the newest question of a kind counts: one
 * runs, at most one waits, and a question that a newer one overtakes ends as `Superseded`. A
 * worker that does not answer in time is ended (a solver inside WebAssembly cannot be
 * interrupted otherwise) and the next question gets a new one.
 */

/** @import { Filled, Happened, Plan, Swap, Trip } from '../engine/types.js' */
/** @import { OtherCount } from './one-more.js' */

/** Milliseconds before a silent worker is taken for stuck. A whole trip takes about one second on a slow phone. */
const PATIENCE = 30_000;

/** What can wait, so that everything else goes between its pieces. */
const IN_PIECES = new Set(['proof', 'ahead', 'warmed']);

/** A newer question of the same kind came in; its answer is the one that counts. */
export class Superseded extends Error {}

/** The worker failed or hung. */
export class EngineTrouble extends Error {}

/**
 * @typedef {object} Question
 * @property {'plan' | 'proof' | 'ahead' | 'warmed' | 'swaps' | 'break_even' | 'one_more'} ask
 * @property {Trip} trip
 * @property {Happened} happened
 * @property {string} [store]
 * @property {string} [product]
 * @property {string} [want]
 * @property {number} [units]
 * @property {Plan} [home] the proven plan of the trip on which nothing has happened
 * @property {Proven} [proven] what another worker has proven
 * @property {Proven} [made] what another worker has planned
 */

/** Plans, each by what it was made from. @typedef {[string, Filled<Plan>][]} Proven */

/** A plan with its proof, and what the other worker may learn from it.
 * @typedef {{plan: Plan, proven: Proven}} Proof */

/**
 * @typedef {object} Waiting
 * @property {number} id
 * @property {Question} question
 * @property {(answer: any) => void} resolve
 * @property {(reason: Error) => void} reject
 */

export class EngineBridge {
  /** @param {() => Worker} [start] makes the worker; another one in tests */
  constructor(start = startWorker) {
    this.start = start;
    /** @type {Worker | null} */
    this.worker = null;
    /** @type {Trip | null} the trip that the worker has from the question before */
    this.told = null;
    /** @type {Waiting | null} */
    this.running = null;
    /** @type {Waiting[]} */
    this.queue = [];
    this.lastId = 0;
    this.lastInPieces = 0;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  /**
   * The plan of what happened so far, at once: proven if that is known, else with its gap.
   * @param {Trip} trip @param {Happened} happened @param {{home?: Plan, proven?: Proven, made?: Proven}} [known]
   * @returns {Promise<Plan>}
   */
  plan(trip, happened, known = {}) {
    return this.ask({ ask: 'plan', trip, happened, ...known });
  }

  /**
   * The same with its proof, which may take long: it is worked out piece by piece, and whatever else is
   * asked goes between. A newer proof overtakes it.
   * @param {Trip} trip @param {Happened} happened @param {{home?: Plan}} [known]
   * @returns {Promise<Proof>}
   */
  async proof(trip, happened, known = {}) {
    return this.#inPieces({ ask: 'proof', trip, happened, ...known });
  }

  /**
   * The plans of what may happen next, for another worker to know: worked out like a proof, and overtaken
   * by one.
   * @param {Trip} trip @param {Happened} happened @param {{home?: Plan}} [known]
   * @returns {Promise<Proven>}
   */
  async ahead(trip, happened, known = {}) {
    return this.#inPieces({ ask: 'ahead', trip, happened, ...known });
  }

  /**
   * Works out, piece by piece, what a tap after this would have to: nothing that the worker was told, as the
   * plan that she left home with, makes it solve anything by itself.
   * @param {Trip} trip @param {Happened} happened
   * @returns {Promise<true>}
   */
  async warmed(trip, happened) {
    return this.#inPieces({ ask: 'warmed', trip, happened });
  }

  /** Whatever is worked out piece by piece is not wanted any more. */
  leavePieces() {
    this.lastInPieces += 1;
  }

  /** @param {Question} question @returns {Promise<any>} */
  async #inPieces(question) {
    this.lastInPieces += 1;
    const own = this.lastInPieces;
    while (own === this.lastInPieces) {
      const answer = await this.ask(question);
      if (answer) return answer;
    }
    throw new Superseded();
  }

  /**
   * What to do about an empty shelf, best first.
   * @param {Trip} trip @param {Happened} happened @param {string} store @param {string} product
   * @returns {Promise<Swap[]>}
   */
  swaps(trip, happened, store, product) {
    return this.ask({ ask: 'swaps', trip, happened, store, product });
  }

  /**
   * The highest tag at which buying is still right; null where there is none.
   * @param {Trip} trip @param {Happened} happened @param {string} store @param {string} product
   * @returns {Promise<number | null>}
   */
  breakEven(trip, happened, store, product) {
    return this.ask({ ask: 'break_even', trip, happened, store, product });
  }

  /**
   * What one unit more or fewer of a want does to the trip.
   * @param {Trip} trip @param {Happened} happened @param {string} want @param {number} units to buy now
   * @returns {Promise<{more: OtherCount | null, fewer: OtherCount | null}>}
   */
  oneMore(trip, happened, want, units) {
    return this.ask({ ask: 'one_more', trip, happened, want, units });
  }

  /** Ends the worker and every question with it. */
  close() {
    this.#end();
    for (const waiting of this.queue.splice(0)) waiting.reject(new Superseded());
  }

  /** @param {Question} question @returns {Promise<any>} */
  ask(question) {
    for (const waiting of this.queue.filter((other) => other.question.ask === question.ask)) {
      this.queue.splice(this.queue.indexOf(waiting), 1);
      waiting.reject(new Superseded());
    }
    return new Promise((resolve, reject) => {
      this.lastId += 1;
      this.queue.push({ id: this.lastId, question, resolve, reject });
      this.#next();
    });
  }

  #next() {
    if (this.running || this.queue.length === 0) return;
    // A plan goes before everything, since the screen waits for it, and everything before what can wait.
    const asks = this.queue.map((waiting) => waiting.question.ask);
    const plan = asks.indexOf('plan');
    const first = plan >= 0 ? plan : Math.max(0, asks.findIndex((ask) => !IN_PIECES.has(ask)));
    this.running = this.queue.splice(first, 1)[0];
    this.worker ??= this.#begin();
    this.timer = setTimeout(() => this.#fail('no answer in time'), PATIENCE);
    const { trip, ...rest } = this.running.question;
    this.worker.postMessage({ id: this.running.id, ...rest, ...(trip === this.told ? {} : { trip }) });
    this.told = trip;
  }

  #begin() {
    const worker = this.start();
    worker.addEventListener('message', ({ data }) => this.#answered(data));
    worker.addEventListener('error', (event) => this.#fail(event.message || 'the worker could not start'));
    return worker;
  }

  /** @param {{id: number, answer?: unknown, trouble?: string}} message */
  #answered({ id, answer, trouble }) {
    if (this.running?.id !== id) return;
    const { resolve, reject } = this.running;
    this.running = null;
    clearTimeout(this.timer);
    if (trouble === undefined) resolve(answer);
    else reject(new EngineTrouble(trouble));
    this.#next();
  }

  /** @param {string} why */
  #fail(why) {
    const failed = this.running;
    this.#end();
    failed?.reject(new EngineTrouble(why));
    this.#next();
  }

  #end() {
    clearTimeout(this.timer);
    this.worker?.terminate();
    this.worker = null;
    this.told = null;
    this.running = null;
  }
}

function startWorker() {
  return new Worker(new URL('./engine-worker.js', import.meta.url), { type: 'module', name: 'engine' });
}
