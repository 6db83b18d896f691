/**
 * Replanning in the aisle: what to do about an empty shelf, and what a tag may cost.
 * Twin of `server/engine/replan.py`.
 */

import { clusters } from './clusters.js';
import { situationAfter } from './history.js';
import { homeUnits } from './known-plans.js';
import { floorDivide, show } from './money.js';
import { sorted } from './order.js';
import { plan, planSituation } from './planner.js';
import { counterAt, isSold, mostWelcome, spotKey, spotOf, tagAt } from './situation.js';

/** @import { Situation } from './situation.js' */
/** @import { Chosen, Event, Filled, Happened, NeedChanged, Plan, PriceSeen, Report } from './types.js' */
/** @import { ShelfEmpty, Store, Swap, Trip, Want } from './types.js' */

/**
 * The reports of a log in order, each with its event's id.
 * @param {readonly Event[]} events
 * @returns {Happened}
 */
export const happenedOf = (events) => ({ entries: events.map((event) => [event.id, event.what]) });

/**
 * What happened, and these besides.
 * @param {Happened} happened @param {...Report} reports
 * @returns {Happened}
 */
export function andThen(happened, ...reports) {
  /** @type {[string, Report][]} */
  const more = reports.map((report) => ['', report]);
  return { entries: [...happened.entries, ...more] };
}

/**
 * What can be done about an empty shelf, best for the whole trip first.
 * @param {Trip} trip @param {Happened} happened @param {string} store @param {string} product
 * @returns {Swap[]}
 */
export function swaps(trip, happened, store, product) {
  const before = plan(trip, happened, false);
  const situation = situationAfter(trip, happened);
  /** @type {ShelfEmpty} */
  const empty = { kind: 'shelf_empty', store, product };
  const spot = spotKey(store, product);
  const held = situation.trolley.get(spot) ?? 0;
  const planned = homeUnits(before);
  const short = Math.max((planned.get(spot) ?? 0) - held, 1);
  /** @type {{rank: number, name: string, swap: Swap}[]} */
  const found = [];
  for (const want of situation.trip.wants) {
    if (!want.products.includes(product) || mostWelcome(want) === 0) continue;
    others(situation, want, store, product).forEach(([place, other], rank) => {
      const units = Math.min(short, mostWelcome(want));
      // So many besides what the plan has of it anyway.
      const total = (planned.get(spotKey(place, other)) ?? 0) + units;
      /** @type {Chosen} */
      const chosen = { kind: 'chosen', store: place, product: other, units: total };
      const after = plan(trip, andThen(happened, empty, chosen), false);
      const eased = after.notes.length > 0 && before.notes.length === 0;
      // Otherwise a purchase limit or the cash ceiling stands against it.
      if ((homeUnits(after).get(spotKey(place, other)) ?? 0) >= total && !eased) {
        const action = place === store ? 'swap' : 'elsewhere';
        const swap = swapOf(before, after, action, units, [empty, chosen], situation.trip);
        found.push({ rank, name: `${place} ${other}`, swap });
      }
    });
    /** @type {NeedChanged} */
    const left = {
      kind: 'need_changed',
      want: want.id,
      need: Math.max(want.need - short, 0),
      welcome: Math.max(mostWelcome(want) - short, 0),
    };
    const after = plan(trip, andThen(happened, empty, left), false);
    const swap = swapOf(before, after, 'leave', 0, [empty, left], situation.trip);
    found.push({ rank: want.products.length, name: 'leave', swap });
  }
  return sorted(found, ({ rank, name, swap }) => [swap.value_change_cents, rank, name]).map(
    ({ swap }) => swap,
  );
}

/**
 * (store, product) of everything else that would do, the same store first, then her order.
 * @param {Situation} situation @param {Filled<Want>} want @param {string} store @param {string} product
 * @returns {[string, string][]}
 */
function others(situation, want, store, product) {
  const trip = situation.trip;
  /** @type {[string, string][]} */
  const spots = [];
  for (const place of sorted(trip.stores, (each) => each.id !== store)) {
    const counter = counterAt(trip, place);
    for (const other of want.products) {
      const spot = spotKey(place.id, other);
      if (spot === spotKey(store, product) || situation.empty.has(spot)) continue;
      if (isSold(trip, counter, other)) spots.push([place.id, other]);
    }
  }
  return spots;
}

/**
 * One thing to do, with what it does to the trip, in words. `units`: of the swap, besides what was
 * planned of it.
 * @param {Filled<Plan>} before @param {Filled<Plan>} after @param {Swap['action']} action
 * @param {number} units @param {Report[]} reports @param {Filled<Trip>} trip
 * @returns {Swap}
 */
function swapOf(before, after, action, units, reports, trip) {
  const chosen = reports.find((report) => report.kind === 'chosen') ?? null;
  const net = after.totals.net_cents - before.totals.net_cents;
  const value = net - (after.totals.worth_cents - before.totals.worth_cents);
  let what = 'Leave it';
  if (chosen !== null) {
    const name = trip.products.find((each) => each.id === chosen.product)?.description;
    const place = trip.stores.find((each) => each.id === chosen.store)?.name;
    what = `${units} x ${name}${action === 'swap' ? '' : ` at ${place}`}`;
  }
  const money = show(Math.abs(net), trip.currency, trip.exponent);
  const change =
    net === 0 ? 'the trip costs the same' : `the trip costs ${money} ${net > 0 ? 'more' : 'less'}`;
  return {
    action,
    product: chosen === null ? null : chosen.product,
    store: chosen === null ? null : chosen.store,
    units,
    net_change_cents: net,
    value_change_cents: value,
    words: `${what}: ${change}`,
    reports,
  };
}

/**
 * The highest tag at which buying as many as now is still right (one, where none is planned).
 *
 * Null where no tag is low enough. Where the want has nothing else to fall back on, the answer is
 * the tag itself or more, up to ten times the tag.
 * @param {Trip} trip @param {Happened} happened @param {string} store @param {string} product
 * @returns {number | null}
 */
export function breakEven(trip, happened, store, product) {
  // Among equals the plan in hand stays, as it will when she reports the tag.
  const situation = situationAfter(trip, happened, homeUnits(plan(trip, null, false)));
  const near = touching(situation, product);
  const place = /** @type {Filled<Store>} */ (situation.trip.stores.find((each) => each.id === store));
  const tag = tagAt(near.trip, place, product);
  if (tag === null) return null;
  const spot = spotKey(store, product);
  const planned = homeUnits(planSituation(near, false)).get(spot) ?? 0;
  const units = Math.max(planned, 1);
  /** @param {number} cents */
  function isRight(cents) {
    /** @type {PriceSeen} */
    const seen = { kind: 'price_seen', store, product, cents };
    const dearer = { ...near, trip: situationAfter(near.trip, { entries: [['', seen]] }).trip };
    return (homeUnits(planSituation(dearer, false)).get(spot) ?? 0) >= units;
  }
  // From the tag up where the tag is right, else down: a lower tag may miss a basket coupon's
  // threshold, so "right" need not hold all the way down.
  let [low, high] = isRight(tag.cents) ? [tag.cents, Math.max(10 * tag.cents, 100)] : [-1, tag.cents - 1];
  while (low < high) {
    const middle = floorDivide(low + high + 1, 2);
    if (isRight(middle)) low = middle;
    else high = middle - 1;
  }
  return low >= 0 ? low : null;
}

/**
 * The situation with only the wants that touch the product's: the others do not matter to it.
 *
 * Where a drive, a further transaction or a ceiling of cash is shared by all, all of them do.
 * @param {Situation} situation @param {string} product
 * @returns {Situation}
 */
export function touching(situation, product) {
  if (sharedByAll(situation.trip)) return situation;
  const wants = situation.trip.wants.filter((want) => mostWelcome(want) > 0);
  const near = clusters(situation, wants).filter((group) =>
    group.some((each) => each.products.includes(product)),
  );
  const kept = near.flat();
  const spots = new Set(kept.flatMap((want) => want.products));
  const held = [...situation.trolley].filter(([spot]) => spots.has(spotOf(spot)[1]));
  return { ...situation, trip: { ...situation.trip, wants: kept }, trolley: new Map(held) };
}

/**
 * Whether something on the trip is paid or limited once for all wants together.
 * @param {Filled<Trip>} trip
 */
function sharedByAll(trip) {
  const ceilings = [trip.wallet.cash_cents, ...trip.stores.map((store) => store.cash_ceiling_cents)];
  const goingOn = trip.settings.further_store_cents > 0 || trip.settings.further_transaction_cents > 0;
  return goingOn || ceilings.some((ceiling) => ceiling !== null);
}
