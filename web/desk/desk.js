// What the Desk's pages gain with script; each works without it. Everything hangs on data attributes.
import { searchAsTyped } from "./search.js";

for (const form of document.querySelectorAll("form[data-search]")) {
  if (form instanceof HTMLFormElement) searchAsTyped(form);
}

// After a form was turned down, the findings are read out and come first by keyboard.
const trouble = document.querySelector("[data-focus]");
if (trouble instanceof HTMLElement) trouble.focus();
