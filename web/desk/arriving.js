// A page that waits for what the server is working out. While a plan is made it asks how far it is, and opens
// the plan when it is there. Beside a plan it takes each part as it arrives to the place that was kept for
// it: nothing that is there already moves, and no focus is lost. Without script, links do the same.

const OFTEN_MS = 500;
const SELDOM_MS = 5_000;
const PATIENT_AFTER = 20; // times in a row without news, after which it asks less often

/** @param {HTMLElement} working  With data-working: the address of the state. */
export function watchPlanning(working) {
  const words = working.querySelector("[data-words]");
  const seconds = working.querySelector("[data-seconds]");
  let shown = words?.textContent ?? "";

  const look = async () => {
    try {
      const answer = await fetch(working.dataset["working"] ?? "", { headers: { accept: "application/json" } });
      if (answer.ok) {
        /** @type {{step: string, seconds: number, words: string}} */
        const state = await answer.json();
        if (state.step !== "looking") {
          location.reload();
          return;
        }
        if (seconds) seconds.textContent = String(state.seconds);
        // The same words again would be read out again.
        if (words && state.words !== shown) words.textContent = shown = state.words;
      }
    } catch {
      // The network comes back, or the browser asks anew by itself.
    }
    setTimeout(look, OFTEN_MS);
  };
  setTimeout(look, OFTEN_MS);
}

/** @param {HTMLElement} waiting  With data-arriving: the address of what has arrived so far. */
export function takeArrivals(waiting) {
  const told = waiting.querySelector("[data-arrived]");
  waiting.querySelector("[data-look]")?.remove();
  let without = 0;

  const look = async () => {
    let more = true;
    try {
      const answer = await fetch(waiting.dataset["arriving"] ?? "", { headers: { accept: "text/html" } });
      if (answer.ok) {
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        without = takeOver(page) ? 0 : without + 1;
        if (without === 0) tell(page.querySelector("[data-arrived]")?.textContent ?? "");
        more = document.querySelector("[data-pending]") !== null;
      } else if (answer.status === 409) {
        tell("The trip or its records were changed meanwhile: open the plan anew.");
        more = false;
      }
    } catch {
      without += 1; // no network: what is there stays, and it is asked again
    }
    if (more) setTimeout(look, without > PATIENT_AFTER ? SELDOM_MS : OFTEN_MS);
    else document.querySelector("[data-once-complete]")?.removeAttribute("hidden");
  };

  /** @param {string} words */
  const tell = (words) => {
    if (told && told.textContent !== words) told.textContent = words;
  };

  setTimeout(look, OFTEN_MS);
}

/** Puts what has arrived in the places kept for it; whether anything had. @param {Document} page */
function takeOver(page) {
  let any = false;
  for (const place of document.querySelectorAll("[data-pending]")) {
    const there = page.getElementById(place.id);
    if (there && !there.hasAttribute("data-pending")) {
      place.replaceWith(document.adoptNode(there));
      any = true;
    }
  }
  return any;
}
