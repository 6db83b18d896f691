// What the Desk's pages gain with script; each works without it. Everything hangs on data attributes.
import { chooseAsTyped } from "./choosing.js";
import { searchAsTyped } from "./search.js";

for (const form of document.querySelectorAll("form[data-search]")) {
  if (form instanceof HTMLFormElement) searchAsTyped(form);
}

for (const chooser of document.querySelectorAll("fieldset[data-chooser]")) {
  if (chooser instanceof HTMLFieldSetElement) chooseAsTyped(chooser);
}

// After a form was turned down, the findings are read out and come first by keyboard.
const trouble = document.querySelector("[data-focus]");
if (trouble instanceof HTMLElement) trouble.focus();
