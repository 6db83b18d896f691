/** Each deal as it is for her: how many she needs, and what the tags show where she goes. */

import { html, nothing } from 'lit';
import { parse } from '../engine/money.js';
import { money, productName, storeName } from '../phone/report-words.js';
import { spotOf, withHers } from './her-trip.js';
import { wholeNumber } from './whole-number.js';

/** @import { ShelfPrice, Want } from '../engine/types.js' */
/** @import { Part } from './mine-screen.js' */

/** @param {Part} part */
export function herDeals(part) {
  return html`
    <section class="store" aria-labelledby="deals">
      <div class="store-head"><h2 id="deals">Your needs and your tags</h2></div>
      ${(part.published.wants ?? []).map((want) => deal(part, want))}
    </section>`;
}

/** @param {Part} part @param {Want} want */
function deal(part, want) {
  const { published, trip, mine } = part;
  const here = new Set(trip.stores.map(({ id }) => id));
  const tags = published.prices.filter((tag) => want.products.includes(tag.product) && here.has(tag.store));
  return html`
    <details class="hers" data-want=${want.id}>
      <summary><span>${want.name || want.id}</span><span class="small">${planned(part, want)}</span></summary>
      ${count(part, want, 'need', 'You need')}
      ${count(part, want, 'welcome', 'Welcome in all, at a good price')}
      ${tags.map((tag) => tagField(part, tag))}
      ${tags.length === 0 ? html`<p class="small">No store that you go to has a price for it.</p>` : nothing}
      ${mine.needs[want.id]?.welcome === 0 ? html`<p class="small">You leave it.</p>` : nothing}
    </details>`;
}

/** "2 at Ostrel, net 37.5¢/roll", as her plan has it now. @param {Part} part @param {Want} want */
function planned({ trip, plan }, want) {
  const deals = (plan?.deals ?? []).filter((each) => each.want === want.id);
  if (deals.length === 0) return 'not bought';
  return deals.map((each) => `${each.units} at ${storeName(trip, each.store)}, net ${each.unit_price}`).join('; ');
}

/** @param {Part} part @param {Want} want @param {'need' | 'welcome'} what @param {string} words */
function count({ mine, change, refuse }, want, what, words) {
  const published = { need: want.need ?? 0, welcome: Math.max(want.need ?? 0, want.welcome ?? 0) };
  const hers = mine.needs[want.id] ?? published;
  const take = (/** @type {HTMLInputElement} */ field) => {
    const units = wholeNumber(field.value);
    refuse(field, units === null ? 'Write a whole number, 0 to 999.' : '');
    if (units === null) return;
    // One follows the other where they would contradict.
    const next = what === 'need'
      ? { need: units, welcome: Math.max(units, hers.welcome) }
      : { need: Math.min(units, hers.need), welcome: units };
    const same = next.need === published.need && next.welcome === published.welcome;
    change({ ...mine, needs: withHers(mine.needs, want.id, next, same) });
  };
  const id = `${what}-${want.id}`;
  return html`
    <label class="own" for=${id}><span>${words}</span>
      <input id=${id} inputmode="numeric" autocomplete="off" size="3" .value=${String(hers[what])} aria-describedby="${id}-mend"
        @change=${(/** @type {Event} */ event) => take(/** @type {HTMLInputElement} */ (event.target))}></label>
    <p id="${id}-mend" class="mend" role="alert"></p>`;
}

/** @param {Part} part @param {ShelfPrice} tag as published */
function tagField({ published, mine, change, refuse }, tag) {
  const spot = spotOf(tag.store, tag.product);
  const cents = mine.cents[spot] ?? tag.cents;
  const take = (/** @type {HTMLInputElement} */ field) => {
    try {
      // Many keypads have a comma for the point; a comma that groups digits is refused below.
      const text = field.value.trim().replace(/^([^,.]*),([^,.]*)$/, '$1.$2');
      const seen = text === '' ? tag.cents : parse(text, published.currency, published.exponent);
      refuse(field, '');
      field.value = plain(published, seen);
      change({ ...mine, cents: withHers(mine.cents, spot, seen, seen === tag.cents) });
    } catch (error) {
      refuse(field, error instanceof Error && 'mend' in error ? String(error.mend) : String(error));
    }
  };
  const id = `tag-${tag.store}-${tag.product}`;
  return html`
    <label class="own" for=${id}><span>${productName(published, tag.product)}
        <span class="small">${storeName(published, tag.store)}${tag.place ? `, ${tag.place}` : ''}${cents === tag.cents ? '' : `; published ${money(published, tag.cents)}`}</span></span>
      <input id=${id} inputmode="decimal" autocomplete="off" size="6" .value=${plain(published, cents)} aria-describedby="${id}-mend"
        @change=${(/** @type {Event} */ event) => take(/** @type {HTMLInputElement} */ (event.target))}></label>
    <p id="${id}-mend" class="mend" role="alert"></p>`;
}

/** The amount as she would type it: digits and a point. @param {Part['published']} trip @param {number} cents */
const plain = (trip, cents) => money(trip, cents).replace(/[^\d.]/g, '');
