// Search as she types: the list of the answer takes the place of the list on the page. The address follows,
// so that going back, reloading and printing show what is seen. Without script the form does the same.

const PAUSE_MS = 120;

/** @param {HTMLFormElement} form  A form with data-search; the page's list carries data-list. */
export function searchAsTyped(form) {
  let waiting = 0;
  let asking = new AbortController();

  const ask = async () => {
    asking.abort();
    asking = new AbortController();
    const address = new URL(form.action);
    for (const [name, value] of new FormData(form)) {
      if (typeof value === "string" && value) address.searchParams.append(name, value);
    }
    try {
      const answer = await fetch(address, { signal: asking.signal, headers: { accept: "text/html" } });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const part of ["[data-list]", "[data-found]", "[data-pages]"]) swap(part, page);
      history.replaceState(null, "", address);
    } catch {
      // A newer question took over, or there is no network: the button still asks.
    }
  };

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = window.setTimeout(ask, PAUSE_MS);
  });
}

/** @param {string} part  @param {Document} page */
function swap(part, page) {
  const here = document.querySelector(part);
  const there = page.querySelector(part);
  if (here && there) here.replaceChildren(...there.childNodes);
  else if (here && part === "[data-pages]") here.replaceChildren();
  else if (there && part === "[data-pages]") document.querySelector("[data-list]")?.after(there);
}
