/**
 * Reads documents: writes out every default that a document leaves out.
 *
 * In Python msgspec does this while decoding. Here a *shape* says what a record's defaults are
 * and which of its fields are records themselves; `offers.js` and `papers.js` hold the shapes.
 */

/**
 * One kind of record. `parts`: fields that hold a record, or a list of records (null stays null).
 * @typedef {object} Shape
 * @property {Readonly<Record<string, unknown>>} [defaults]
 * @property {Readonly<Record<string, Shape | Kinds>>} [parts]
 */

/** A tagged union: the shape for each word of the record's `kind`.
 * @typedef {{kinds: Readonly<Record<string, Shape>>}} Kinds */

/**
 * The document with every default written out; what went in is not changed.
 * @param {Shape | Kinds} shape
 * @param {unknown} document a record, a list of records, or null
 * @returns {unknown}
 */
export function filled(shape, document) {
  if (Array.isArray(document)) return document.map((one) => filled(shape, one));
  if (document === null || typeof document !== 'object') return document;
  const { defaults = {}, parts = {} } = shapeOf(shape, document);
  /** @type {Record<string, unknown>} */
  const record = { ...defaults, ...document };
  for (const [field, part] of Object.entries(parts)) record[field] = filled(part, record[field]);
  return record;
}

/**
 * @param {Shape | Kinds} shape
 * @param {object} document
 * @returns {Shape}
 */
function shapeOf(shape, document) {
  if (!('kinds' in shape)) return shape;
  const kind = 'kind' in document ? String(document.kind) : '';
  const known = shape.kinds[kind];
  if (known === undefined) throw new TypeError(`a record of kind ${JSON.stringify(kind)} is not known here`);
  return known;
}
