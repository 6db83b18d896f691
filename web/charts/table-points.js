// A table of days and numbers as the series of a chart. Pure: rows of text in, points out.

const DAY_MS = 86_400_000;

/** @typedef {{ x: number, y: number, day: string, text: string }} Point  x: days since 1970; text: as the cell says */
/** @typedef {{ name: string, points: Point[] }} Series */
/** @typedef {{ day: string, series: string, value: string, text: string }} Row */

/**
 * The rows of a table whose headings carry data-x, data-series and data-y; none where a day or number is missing.
 * Where several columns are series, their texts together name one; where several are numbers, each is one
 * of its own, named by its heading too.
 * @param {HTMLTableElement} table
 * @returns {Row[]}
 */
export function rowsOf(table) {
  const heads = [...(table.tHead?.rows[0]?.cells ?? [])];
  const at = (/** @type {string} */ mark) => heads.flatMap((head, n) => (mark in head.dataset ? [n] : []));
  const [[day], series, values] = [at("x"), at("series"), at("y")];
  if (day === undefined) return [];
  return [...(table.tBodies[0]?.rows ?? [])].flatMap((row) =>
    values.map((value) => ({
      day: text(row.cells[day]),
      series: [
        ...series.map((n) => text(row.cells[n])),
        ...(values.length > 1 ? [text(heads[value])] : []),
      ].join(", "),
      value: row.cells[value]?.dataset.value ?? "",
      text: text(row.cells[value]),
    })),
  );
}

/**
 * The series in the order of their names, each by day; of one day the lowest. Rows without a day or
 * number are left out.
 * @param {readonly Row[]} rows
 * @returns {Series[]}
 */
export function seriesOf(rows) {
  /** @type {Map<string, Map<number, Point>>} */
  const found = new Map();
  for (const row of rows) {
    const x = Date.parse(`${row.day}T00:00:00Z`) / DAY_MS;
    const y = Number(row.value);
    if (!Number.isFinite(x) || !Number.isFinite(y) || row.value === "") continue;
    const points = found.get(row.series) ?? new Map();
    found.set(row.series, points);
    const there = points.get(x);
    if (there === undefined || y < there.y) points.set(x, { x, y, day: row.day, text: row.text });
  }
  return [...found]
    .sort(([one], [other]) => (one < other ? -1 : 1))
    .map(([name, points]) => ({ name, points: [...points.values()].sort((one, other) => one.x - other.x) }));
}

/**
 * The ISO day of an x.
 * @param {number} x
 */
export function dayOf(x) {
  return new Date(Math.round(x) * DAY_MS).toISOString().slice(0, 10);
}

/** @param {HTMLTableCellElement | undefined} cell */
function text(cell) {
  return cell?.textContent?.trim() ?? "";
}
