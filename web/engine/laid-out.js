/**
 * Answers of the whole program at the register: its figures decide, and not the program's.
 * Twin of `server/engine/laid_out.py`.
 */

import { sum } from './belt.js';
import { overCeilings } from './checkout.js';
import { inCheckoutOrder, missingIn, paidIn } from './drafting.js';
import { fillings } from './filling.js';
import { lessCash, solveLevels, without } from './levels.js';
import { buildModel } from './model.js';
import { compare } from './order.js';
import { cheapestOrder } from './reordering.js';
import { planValue, writePlan } from './writing.js';

/** @import { Shelf } from './block.js' */
/** @import { Paid } from './checkout.js' */
/** @import { Draft, PutTogether } from './drafting.js' */
/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan, Want } from './types.js' */

/**
 * The best plan by the register's figures, from the program's best `first` answer on.
 *
 * In a few places the program flatters a plan by some cents (`building.js`). Where the register's
 * figure falls short of the optimum in any order on the belt, that answer is forbidden and the program
 * asked again, until nothing that is left can be better. An answer forbidden before every order was
 * tried still counts for the bound.
 * @param {Situation} situation @param {Model} whole @param {Solved} first @param {number} questions
 * @returns {Draft}
 */
export function bestByTheRegister(situation, whole, first, questions) {
  let [model, answer] = [whole, first];
  let [paid, sure] = laidOut(situation, model, answer);
  const floors = sure ? [] : [answer.value];
  let best = [over(situation, paid), planValue(situation, paid), -model.units.value(answer.values)];
  let [kept, missing] = [paid, missingIn(model, answer)];
  const fewest = answer.unmet;
  let bound = answer.value;
  for (let question = 0; question < questions; question += 1) {
    if (best[0] === 0 && best[1] <= bound) break;
    model = without(model, answer);
    const further = solveLevels(model);
    if (further === null || further.unmet > fewest) {
      bound = best[1];
      break;
    }
    [answer, bound] = [further, Math.min(further.value, best[1])];
    const units = -model.units.value(answer.values);
    if (best[0] === 0 && compare([answer.value, units], best.slice(1)) >= 0) break;
    [paid, sure] = laidOut(situation, model, answer);
    if (!sure) floors.push(answer.value);
    const found = [over(situation, paid), planValue(situation, paid), units];
    if (compare(found, best) < 0) [best, kept, missing] = [found, paid, missingIn(model, answer)];
  }
  const least = certain(model, Math.min(bound, ...floors));
  return { written: writePlan(situation, kept, missing, least), unmet: fewest, value: best[1], bound: least };
}

/**
 * An answer at the register, and whether no other order on the belt is cheaper.
 * @param {Situation} situation @param {Model} model @param {Solved} answer
 * @returns {[Paid[], boolean]}
 */
function laidOut(situation, model, answer) {
  const paid = paidIn(situation, fillings(model, answer));
  if (planValue(situation, paid) <= answer.value) return [paid, true];
  const tried = paid.map((each) => cheapestOrder(each.transaction));
  const other = inCheckoutOrder(
    situation,
    tried.map(([each]) => ({ ...each, tenders: [], earned_before: {} })),
  );
  const every = tried.every(([, all]) => all);
  return [planValue(situation, other) < planValue(situation, paid) ? other : paid, every];
}

/** By how many cents the plan passes the cash ceilings.
 * @param {Situation} situation @param {readonly Paid[]} paid */
function over(situation, paid) {
  const cash = paid.map(({ receipt }) => ({ store: receipt.store, cents: receipt.out_of_pocket_cents }));
  return overCeilings(situation, cash);
}

/** A model's optimum as a bound; null where ways were left out of it.
 * @param {Model} model @param {number} value */
export const certain = (model, value) => (model.whole ? value : null);

/**
 * Whether a plan puts down cash while a slip or a gift card is in hand or may be earned, or pays at a store
 * more than once.
 * @param {Situation} situation @param {PutTogether} draft @param {ReadonlyMap<string, Shelf>} shelves
 */
export function mayTakeLessCash(situation, draft, shelves) {
  const { slips, gift_cards: cards } = situation.trip.wallet;
  const earned = [...shelves.values()].flatMap((shelf) => shelf.rewards);
  const paysOtherwise =
    slips.length > 0 || cards.length > 0 || earned.some((reward) => reward.kind !== 'points');
  const several = draft.cash.length > new Set(draft.cash.map(({ store }) => store)).size;
  return several || (paysOtherwise && draft.cash.some(({ cents }) => cents > 0));
}

/**
 * The draft's plan, or one as good for less cash, or for as much in fewer transactions.
 * @param {Situation} situation @param {PutTogether} draft @param {Map<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants
 * @returns {Filled<Plan>}
 */
export function withLeastCash(situation, draft, shelves, wants) {
  const cash = sum(draft.cash.map(({ cents }) => cents));
  const units = sum(
    draft.written.transactions.flatMap(({ transaction }) => transaction.lines.map((line) => line.units)),
  );
  const whole = buildModel(situation, shelves, wants, 'whole');
  const answer = lessCash(whole, draft.unmet, draft.value, units, cash, draft.cash.length);
  if (answer === null) return draft.written;
  const [paid] = laidOut(situation, whole, answer);
  const down = sum(paid.map(({ receipt }) => receipt.out_of_pocket_cents));
  const less = compare([down, paid.length], [cash, draft.cash.length]) < 0;
  if (!less || over(situation, paid) > 0 || planValue(situation, paid) > draft.value) return draft.written;
  return writePlan(situation, paid, missingIn(whole, answer), draft.bound);
}
