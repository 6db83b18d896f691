// What the Desk's pages gain with script; each works without it. Everything hangs on data attributes.
import { takeArrivals, watchPlanning } from "./arriving.js";
import { chooseAsTyped } from "./choosing.js";
import { enterGoesOn } from "./next-field.js";
import { searchAsTyped } from "./search.js";

for (const form of document.querySelectorAll("form[data-search]")) {
  if (form instanceof HTMLFormElement) searchAsTyped(form);
}

for (const chooser of document.querySelectorAll("fieldset[data-chooser]")) {
  if (chooser instanceof HTMLFieldSetElement) chooseAsTyped(chooser);
}

for (const working of document.querySelectorAll("[data-working]")) {
  if (working instanceof HTMLElement) watchPlanning(working);
}

for (const waiting of document.querySelectorAll("[data-waiting]")) {
  if (waiting instanceof HTMLElement) takeArrivals(waiting);
}

for (const form of document.querySelectorAll("form[data-next-field]")) {
  if (form instanceof HTMLFormElement) enterGoesOn(form);
}

// Drawing takes a library: only pages with something to draw fetch it.
const figures = document.querySelectorAll('figure[data-chart="line"]');
if (figures.length > 0) {
  const { drawLineChart } = await import("../charts/line-chart.js");
  for (const figure of figures) if (figure instanceof HTMLElement) drawLineChart(figure);
}
