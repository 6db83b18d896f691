// In a long form of numbers Enter goes on to the next field, as on a keypad; Ctrl or Command with Enter sends.
// Without script Enter sends, which keeps what was counted so far.

/** @param {HTMLFormElement} form  A form with data-next-field. */
export function enterGoesOn(form) {
  form.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || !(field instanceof HTMLInputElement) || event.isComposing) return;
    event.preventDefault();
    if (event.ctrlKey || event.metaKey) {
      form.requestSubmit();
      return;
    }
    const fields = [...form.querySelectorAll("input:not([type=hidden]), button[type=submit]")];
    const next = fields[fields.indexOf(field) + 1];
    if (next instanceof HTMLElement) next.focus();
    if (next instanceof HTMLInputElement) next.select();
  });
}
