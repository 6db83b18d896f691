/**
 * A form for one amount of money, read exactly: what is not an amount is refused with its mend,
 * never rounded. The keypad with a point comes up on phones.
 */

import { html, nothing } from 'lit';
import { parse } from '../engine/money.js';

/** @import { Trip } from '../engine/types.js' */

/**
 * @param {Trip} trip
 * @param {object} entry
 * @param {string} entry.name of the entry, as the page may have several
 * @param {string} entry.label
 * @param {string} entry.button
 * @param {string} entry.mend what was wrong with the last try, '' for nothing
 * @param {unknown} [entry.extra] further fields
 * @param {boolean} [entry.first] the sheet that it stands in opens with it: focus goes there
 * @param {(cents: number, form: HTMLFormElement) => void} entry.take
 * @param {(mend: string) => void} entry.refuse
 */
export function moneyEntry(trip, { name, label, button, mend, extra = nothing, first = false, take, refuse }) {
  const submit = (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    const field = /** @type {HTMLInputElement} */ (form.elements.namedItem('amount'));
    try {
      // Many keypads have a comma for the point; a comma that groups digits is refused below.
      take(parse(field.value.replace(/^([^,.]*),([^,.]*)$/, '$1.$2'), trip.currency, trip.exponent), form);
    } catch (error) {
      refuse(error instanceof Error && 'mend' in error ? String(error.mend) : String(error));
      field.focus();
    }
  };
  return html`
    <form class="entry" novalidate @submit=${submit}>
      <label>${label}
        <input name="amount" inputmode="decimal" autocomplete="off" enterkeyhint="done" size="8" ?autofocus=${first}
          aria-invalid=${mend !== ''} aria-describedby="${name}-mend">
      </label>
      <p id="${name}-mend" class="mend" role="alert">${mend}</p>
      ${extra}
      <button class="go wide">${button}</button>
    </form>`;
}
