// Choosing products in a form: the list follows what is typed. What is ticked stays where it is as long as she is
// there, and moves up to what is chosen once the list follows other words; Enter takes the first that fits at once.
// Without script the buttons "Find" and "Take all" ask the server for the same.

const PAUSE_MS = 120;

/** @param {HTMLFieldSetElement} chooser  A fieldset with data-chooser (web/templates/offers/parts.html). */
export function chooseAsTyped(chooser) {
  const name = chooser.dataset.chooser ?? "";
  const words = chooser.querySelector(".finder input");
  const chosen = chooser.querySelector("[data-chosen]");
  const list = chooser.querySelector("[data-found-products]");
  if (!(words instanceof HTMLInputElement) || !chosen || !list) return;
  const take = chooser.querySelector("[data-take]");
  let waiting = 0;
  let asking = new AbortController();
  list.setAttribute("role", "status");

  const ask = async () => {
    asking.abort();
    asking = new AbortController();
    take?.remove(); // it takes what the page came with
    const address = `/desk/offers/products?${new URLSearchParams({ search: words.value, name })}`;
    try {
      const answer = await fetch(address, { signal: asking.signal, headers: { accept: "text/html" } });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const box of boxes(list)) if (box.checked) choose(box);
      list.replaceChildren(...page.body.childNodes);
      const ids = new Set([...boxes(chosen)].map((box) => box.value));
      for (const box of boxes(list)) if (ids.has(box.value)) box.closest(".tick")?.remove();
    } catch {
      // A newer question took over, or there is no network: the button still asks.
    }
  };

  /** @param {HTMLInputElement} box */
  const choose = (box) => {
    const line = box.closest(".tick");
    if (line) chosen.append(line);
  };

  words.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = window.setTimeout(ask, PAUSE_MS);
  });
  words.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !words.value.trim()) return;
    // Enter takes the first that fits; the form itself is sent by Enter anywhere else.
    event.preventDefault();
    const first = boxes(list).find((box) => !box.checked);
    if (!first) return;
    first.checked = true;
    choose(first);
    words.focus();
    words.select();
  });
}

/** @param {Element} part @returns {HTMLInputElement[]} */
function boxes(part) {
  return [...part.querySelectorAll("input")].filter((box) => box.type === "checkbox");
}
