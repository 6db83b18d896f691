/**
 * Rebates and set bonuses in the program: how often each can be claimed after the trip.
 * Twin of `server/engine/claiming.py`.
 */

import { sum } from './belt.js';
import { known } from './entries.js';
import { floorDivide } from './money.js';
import { Sum, added, one } from './program.js';
import { holdsOn } from './shelf.js';
import { asksFor } from './ways.js';

/** @import { Filled, Rebate, Want } from './types.js' */
/** @import { Block, Blocks } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Situation } from './situation.js' */

/**
 * Times each rebate is claimed; with a least receipt, on each receipt that reaches it.
 * @param {Program} program @param {Situation} situation @param {readonly Filled<Want>[]} wants
 * @param {Blocks} blocks @param {boolean} apart
 * @returns {Map<string, Sum>}
 */
export function claimRebates(program, situation, wants, blocks, apart) {
  /** @type {Map<string, Sum>} */
  const claims = new Map();
  const names = wants.flatMap((want) => want.products);
  for (const rebate of situation.trip.rebates) {
    if (!holdsOn(situation.trip.day, rebate.from_date, rebate.until)) continue;
    const byReceipt = rebate.from_receipt_cents > 0;
    let before = boughtFor(situation, rebate);
    const times = byReceipt ? claimsDone(situation, rebate) : floorDivide(before, rebate.units);
    const done = Math.min(times, rebate.limit);
    if (!names.some((name) => asksFor(rebate.products, name))) {
      if (done) claims.set(rebate.id, new Sum(new Map(), done));
      continue;
    }
    if (byReceipt && !apart) {
      const claimed = claimsByReceipt(program, rebate, blocks, rebate.limit - done);
      claimed.constant = done;
      claims.set(rebate.id, claimed);
      continue;
    }
    if (byReceipt) before = done * rebate.units;
    const claimed = program.variable(0, rebate.limit);
    let units = new Sum(new Map(), before);
    for (const [store, each] of blocks) {
      if (rebate.stores.length > 0 && !rebate.stores.includes(store)) continue;
      for (const block of each) units = units.plus(added(unitsFor(block, rebate)));
    }
    program.require(units.plus(one(claimed), -rebate.units), { low: 0 });
    claims.set(rebate.id, one(claimed));
  }
  return claims;
}

/** @param {Block} block @param {Filled<Rebate>} rebate */
function unitsFor(block, rebate) {
  return [...block.units]
    .filter(([product]) => asksFor(rebate.products, product))
    .map(([, units]) => units);
}

/** Units bought so far that count for a rebate.
 * @param {Situation} situation @param {Filled<Rebate>} rebate */
export function boughtFor(situation, rebate) {
  return sum(
    situation.done
      .filter((done) => rebate.stores.length === 0 || rebate.stores.includes(done.transaction.store.id))
      .flatMap((done) => done.transaction.lines)
      .filter((line) => asksFor(rebate.products, line.product))
      .map((line) => line.units),
  );
}

/** Claims that the receipts so far carry, each receipt by itself.
 * @param {Situation} situation @param {Filled<Rebate>} rebate */
export function claimsDone(situation, rebate) {
  let total = 0;
  for (const done of situation.done) {
    if (rebate.stores.length > 0 && !rebate.stores.includes(done.transaction.store.id)) continue;
    if (done.receipt.merchandise_cents < rebate.from_receipt_cents) continue;
    const lines = done.transaction.lines.filter((line) => asksFor(rebate.products, line.product));
    total += floorDivide(sum(lines.map((line) => line.units)), rebate.units);
  }
  return total;
}

/** @param {Program} program @param {Filled<Rebate>} rebate @param {Blocks} blocks @param {number} limit */
function claimsByReceipt(program, rebate, blocks, limit) {
  const total = new Sum();
  for (const [store, each] of blocks) {
    if (rebate.stores.length > 0 && !rebate.stores.includes(store)) continue;
    for (const block of each) {
      const units = added(unitsFor(block, rebate));
      if (units.terms.size === 0) continue;
      const times = program.variable(0, limit);
      const reached = program.variable(0, 1);
      program.require(one(times).plus(one(reached), -limit), { high: 0 });
      program.require(block.merchandise.plus(one(reached), -rebate.from_receipt_cents), { low: 0 });
      program.require(units.plus(one(times), -rebate.units), { low: 0 });
      total.add(times, 1);
    }
  }
  program.require(total, { high: limit });
  return total;
}

/**
 * Each set bonus whose every rebate can be claimed.
 * @param {Program} program @param {Situation} situation @param {ReadonlyMap<string, Sum>} claims
 * @returns {Map<string, number>}
 */
export function claimBonuses(program, situation, claims) {
  /** @type {Map<string, number>} */
  const found = new Map();
  for (const bonus of situation.trip.set_bonuses) {
    if (!bonus.rebates.every((rebate) => claims.has(rebate))) continue;
    if (!bonus.rebates.some((rebate) => known(claims, rebate).terms.size > 0)) continue;
    const won = program.variable(0, 1);
    for (const rebate of bonus.rebates) {
      program.require(known(claims, rebate).plus(one(won), -1), { low: 0 });
    }
    found.set(bonus.id, won);
  }
  return found;
}
