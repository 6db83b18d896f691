/**
 * Answers of the whole program at the register: its figures decide, and not the program's.
 * Twin of `server/engine/laid_out.py`.
 */

import { sum } from './belt.js';
import { overCeilings } from './checkout.js';
import { inCheckoutOrder, missingIn, paidIn } from './drafting.js';
import { fillings } from './filling.js';
import { lessCash, solveLevels, without } from './levels.js';
import { compare } from './order.js';
import { cheapestOrder } from './reordering.js';
import { planValue, writePlan } from './writing.js';

/** @import { Shelf } from './block.js' */
/** @import { Paid } from './checkout.js' */
/** @import { Draft, PutTogether } from './drafting.js' */
/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan } from './types.js' */

const EQUALS_OPEN =
  'Nothing is better in net cost: proven. Whether the same would buy more, or take less cash or fewer ' +
  'transactions, is not known.';
/** How often the program is asked for less cash, where the register does not bear it out. */
const LESS_CASH_QUESTIONS = 6;

/**
 * The best plan by the register's figures, from the program's best `first` answer on.
 *
 * In a few places the program flatters a plan by some cents (`building.js`). Where the register's
 * figures fall short of the optimum in any order on the belt, that answer is forbidden and the program
 * asked again, until nothing that is left can be better, or as good for less cash or in fewer transactions.
 * An answer forbidden before every order was tried still counts for the bound. Where all that meet as many needs
 * pass a cash ceiling at the register, more stay unmet.
 * @param {Situation} situation @param {Model} whole @param {Solved} first @param {number} questions
 * @returns {Draft}
 */
export function bestByTheRegister(situation, whole, first, questions) {
  let [model, answer] = [whole, first];
  let [paid, sure] = laidOut(situation, model, answer);
  let floors = sure ? [] : [answer.value];
  let best = atTheRegister(situation, model, answer, paid);
  let [kept, missing] = [paid, missingIn(model, answer)];
  let [bound, promised] = [answer.value, byTheProgram(model, answer)];
  for (let question = 0; question < questions; question += 1) {
    if (compare(best, promised) <= 0) break;
    model = without(model, answer);
    const further = solveLevels(model);
    const [centsOver, unmet, value] = best;
    if (further === null || (further.unmet > unmet && centsOver === 0)) {
      [bound, promised] = [value, best];
      break;
    }
    const asMany = further.unmet === unmet;
    [floors, bound] = asMany ? [floors, Math.min(further.value, value)] : [[], further.value];
    [answer, promised] = [further, byTheProgram(model, further)];
    if (compare(best, promised) <= 0) break;
    [paid, sure] = laidOut(situation, model, answer);
    if (!sure) floors.push(answer.value);
    const found = atTheRegister(situation, model, answer, paid);
    if (compare(found, best) < 0) [best, kept, missing] = [found, paid, missingIn(model, answer)];
  }
  const least = certain(model, Math.min(bound, ...floors));
  let written = writePlan(situation, kept, missing, least);
  if (compare(best, promised) > 0) written = equalsOpen(written);
  return { written, unmet: best[1], value: best[2], bound: least };
}

/**
 * An answer as the program reckons it, which is never more than the register does: cents over the cash
 * ceilings (none), missing units, level 2, units as less than none, cash, transactions.
 * @param {Model} model @param {Solved} answer
 */
function byTheProgram(model, answer) {
  const { values } = answer;
  const [units, transactions] = [model.units.value(values), model.transactions.value(values)];
  return [0, answer.unmet, answer.value, -units, answer.cash, transactions];
}

/** The same as the register reckons it.
 * @param {Situation} situation @param {Model} model @param {Solved} answer @param {readonly Paid[]} paid */
function atTheRegister(situation, model, answer, paid) {
  const cash = sum(paid.map(({ receipt }) => receipt.out_of_pocket_cents));
  const units = model.units.value(answer.values);
  return [over(situation, paid), answer.unmet, planValue(situation, paid), -units, cash, paid.length];
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

/** How many units a plan buys. @param {Filled<Plan>} plan */
export const unitsIn = (plan) =>
  sum(plan.transactions.flatMap(({ transaction }) => transaction.lines.map((line) => line.units)));

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

/** A plan of which it is not known whether another one that is worth as much takes less.
 * @param {Filled<Plan>} plan */
export function equalsOpen(plan) {
  if (!plan.proof.optimal) return plan;
  return { ...plan, proof: { optimal: false, net_optimal: true, gap_cents: 0, words: EQUALS_OPEN } };
}

/**
 * The draft's plan, or the one as good for the least cash, or for as much in fewest transactions.
 *
 * Where the register does not bear an answer out, it is forbidden and the program asked again.
 * @param {Situation} situation @param {PutTogether} draft @param {Model} first the whole program
 * @returns {Filled<Plan>}
 */
export function withLeastCash(situation, draft, first) {
  let [least, written] = [[sum(draft.cash.map(({ cents }) => cents)), draft.cash.length], draft.written];
  const units = unitsIn(written);
  let whole = first;
  for (let question = 0; question < LESS_CASH_QUESTIONS; question += 1) {
    const answer = lessCash(whole, draft.unmet, draft.value, units, least[0], least[1]);
    if (answer === null) return written;
    const [paid] = laidOut(situation, whole, answer);
    const found = [sum(paid.map(({ receipt }) => receipt.out_of_pocket_cents)), paid.length];
    const isKept = over(situation, paid) === 0 && planValue(situation, paid) <= draft.value;
    if (isKept && compare(found, least) < 0) {
      [least, written] = [found, writePlan(situation, paid, missingIn(whole, answer), draft.bound)];
    }
    if (compare(least, [answer.cash, whole.transactions.value(answer.values)]) <= 0) return written;
    whole = without(whole, answer);
  }
  return equalsOpen(written);
}
