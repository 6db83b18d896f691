/**
 * The one door to the solver: HiGHS, to proven optimality, on one thread.
 * Twin of `server/engine/solver.py`, which speaks to HiGHS's own library; this speaks to its
 * WebAssembly build, which knows one thread only. Loading takes a moment, once (`loadSolver`); from
 * then on the engine is synchronous.
 */

import highsLoader from '../vendor/highs/highs.mjs';

/** @import { Highs, ModelData } from '../vendor/highs/highs.mjs' */
/** @import { Program, Row, Sum } from './program.js' */

// Objectives are whole numbers: a gap under one is none.
const GAP_BELOW_ONE = 0.9;

// Up to so many variables a search begun anew takes a quarter longer; a whole trip's takes half as long.
const SEARCHED_ONCE = 300;

const OPTIONS = Object.freeze({
  output_flag: false,
  mip_rel_gap: 0,
  mip_abs_gap: GAP_BELOW_ONE,
  // A search for a first solution that takes a third of the time here and finds none sooner.
  mip_heuristic_run_feasibility_jump: false,
});

/**
 * `values` per variable (whole numbers), the objective's `value`, and the `bound` that no values
 * can go below.
 * @typedef {{values: readonly number[], value: number, bound: number}} Solution
 */

/**
 * A program without whole numbers: `values` per variable, the least `value` of the objective, and what
 * each variable adds to it per unit away from its bound (above zero at the lower one, below at the upper).
 * @typedef {{values: readonly number[], value: number, reducedCosts: readonly number[]}} Relaxed
 */

/** @type {Promise<Highs> | null} */
let loading = null;
/** @type {Highs | null} */
let highs = null;

/**
 * Loads HiGHS; to be awaited once before the first plan. Calling it again costs nothing.
 * @param {(file: string) => string} [locate] where `highs.wasm` is, if not beside its module
 */
export async function loadSolver(locate) {
  loading ??= highsLoader(locate === undefined ? {} : { locateFile: locate });
  try {
    highs = await loading;
  } catch (error) {
    // So that the next call may try again, as after a broken connection.
    loading = null;
    throw error;
  }
}

// What was solved lately: a replan after one report asks mostly what was asked before. Questions are
// kept as text, so their length is bounded too.
/** @type {Map<string, Solution | null>} */
const REMEMBERED = new Map();
const MOST_REMEMBERED = 2_000;
const MOST_CHARACTERS = 2 ** 24;
let characters = 0;

/** A piece of work stopped before its next question to the solver; asked again, it goes on from there. */
export class Paused extends Error {}

// When the work in hand may be put aside, and whether it has come any further since it was taken up.
let pauseAt = Infinity;
let cameFurther = false;

/**
 * Works for so long, and then up to the next question to the solver: what a proof asks is answered piece by
 * piece, so that a newer question need not wait for all of it. What was solved is remembered, so the same
 * work asked again comes further. The phone's own: the server proves in a process of its own.
 * @template T
 * @param {number} milliseconds @param {() => T} work
 * @returns {T} throws `Paused` where there is more to ask
 */
export function forAWhile(milliseconds, work) {
  pauseAt = performance.now() + milliseconds;
  cameFurther = false;
  try {
    return work();
  } finally {
    pauseAt = Infinity;
  }
}

/**
 * The least of `goal`, or null where no values satisfy the rows; remembered by content.
 * @param {Program} program @param {Sum} goal
 * @returns {Solution | null}
 */
export function minimize(program, goal) {
  const question = asText(program, goal);
  const known = REMEMBERED.get(question);
  if (known !== undefined) {
    REMEMBERED.delete(question);
    REMEMBERED.set(question, known);
    return known;
  }
  if (cameFurther && performance.now() > pauseAt) throw new Paused('more to ask');
  const answer = solve(program, goal);
  cameFurther = true;
  REMEMBERED.set(question, answer);
  characters += question.length;
  for (const oldest of REMEMBERED.keys()) {
    if (REMEMBERED.size <= MOST_REMEMBERED && characters <= MOST_CHARACTERS) break;
    REMEMBERED.delete(oldest);
    characters -= oldest.length;
  }
  return answer;
}

/** Nothing solved before is remembered: for benches, and where memory is short. */
export function forget() {
  REMEMBERED.clear();
  characters = 0;
}

// A row as text, which stays in the programs that are made of its own by one row more.
/** @type {WeakMap<Row, string>} */
const ROWS = new WeakMap();

/** @param {Program} program @param {Sum} goal */
function asText(program, goal) {
  const rows = program.rows.map((row) => {
    const known = ROWS.get(row);
    if (known !== undefined) return known;
    const text = `${row.low}<${[...row.terms].join()}<${row.high}`;
    ROWS.set(row, text);
    return text;
  });
  return [program.lower, program.upper, goal.constant, [...goal.terms].join(), ...rows].join(';');
}

/**
 * Asks HiGHS. Throws when it gives no answer at all.
 *
 * No starting values are handed over: HiGHS 1.16 was seen to call a start optimal that was not.
 * @param {Program} program @param {Sum} goal
 * @returns {Solution | null}
 */
function solve(program, goal) {
  if (highs === null) throw new Error('the solver is asked before loadSolver() is done');
  const { modelStatus, solutionStatus } = highs.constants;
  const count = program.lower.length;
  // Nothing to decide, and HiGHS calls an empty program an error.
  if (count === 0) return { values: [], value: goal.constant, bound: goal.constant };
  const data = modelData(program, goal);
  const integrality = new Int32Array(count).fill(highs.constants.variableType.integer);
  return highs.withModel({ ...data, integrality }, (model) => {
    model.options.set({ ...OPTIONS, mip_allow_restart: count > SEARCHED_ONCE });
    model.run();
    const status = model.getModelStatus();
    if (status === modelStatus.infeasible || status === modelStatus.unboundedOrInfeasible) return null;
    if (model.info.get('primal_solution_status') !== solutionStatus.feasible) {
      throw new Error(`the solver gave no plan: its status is ${status}`);
    }
    // `+ 0` because JavaScript tells a negative zero from zero.
    const values = Array.from(model.getSolution().colValue, (value) => Math.round(value) + 0);
    const reached = goal.value(values);
    if (status === modelStatus.optimal) return { values, value: reached, bound: reached };
    const bound = Math.ceil(Number(model.info.get('mip_dual_bound')) - 1e-6) + goal.constant;
    return { values, value: reached, bound: Math.min(bound, reached) };
  });
}

/**
 * The least of `goal` over fractions too, or null where HiGHS finds none.
 * @param {Program} program @param {Sum} goal
 * @returns {Relaxed | null}
 */
export function relax(program, goal) {
  if (highs === null) throw new Error('the solver is asked before loadSolver() is done');
  const { optimal } = highs.constants.modelStatus;
  if (program.lower.length === 0) return null;
  return highs.withModel(modelData(program, goal), (model) => {
    model.options.set(OPTIONS);
    model.run();
    if (model.getModelStatus() !== optimal) return null;
    const value = Number(model.info.get('objective_function_value')) + goal.constant;
    const { colValue, colDual } = model.getSolution();
    return { values: [...colValue], value, reducedCosts: [...colDual] };
  });
}

/**
 * The program in the solver's own arrays, row by row ('csr').
 * @param {Program} program @param {Sum} goal
 * @returns {ModelData}
 */
function modelData(program, goal) {
  const count = program.lower.length;
  const colCost = new Float64Array(count);
  for (const [variable, coefficient] of goal.terms) colCost[variable] = coefficient;
  const starts = [0];
  /** @type {number[]} */
  const indices = [];
  /** @type {number[]} */
  const values = [];
  for (const row of program.rows) {
    for (const [variable, coefficient] of row.terms) {
      indices.push(variable);
      values.push(coefficient);
    }
    starts.push(indices.length);
  }
  const numRows = program.rows.length;
  return {
    numCols: count,
    numRows,
    colCost,
    colLower: program.lower,
    colUpper: program.upper,
    rowLower: program.rows.map((row) => row.low),
    rowUpper: program.rows.map((row) => row.high),
    matrix: {
      format: 'csr',
      numRows,
      numCols: count,
      starts,
      indices,
      values,
    },
  };
}
