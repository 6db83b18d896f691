/**
 * The first screenful of the Aisle as it was shown last: kept, so that a cold start has lines to show before it has
 * anything else (`opening.js`), and how it gives way to the shell's own lines.
 *
 * What was painted is kept as plain data, an element as its name, attributes and children. Text is text in it and
 * never becomes anything else.
 */

/** A text, or an element. @typedef {string | {name: string, attributes: [string, string][], children: Part[]}} Part */

/**
 * @typedef {object} Shown the first lines as they were shown last
 * @property {'shown'} key
 * @property {string} basis which trip version and events they stand on
 * @property {Part[]} parts
 */

/** How far down lines are kept, in heights of the screen: she may begin to scroll. */
const SCREENS = 1.5;
/** What the shell shows that is not the trip's: it comes by itself when there is something to say. */
const PASSING = '.note, .alert, .news';
const SVG = 'http://www.w3.org/2000/svg';

/** The head, the first lines and the foot; none where no line is shown. @param {HTMLElement} shell @returns {Part[]} */
export function firstScreenful(shell) {
  const head = shell.querySelector(':scope > .head');
  const foot = shell.querySelector(':scope > .foot');
  const main = shell.querySelector(':scope > main');
  if (!head || !foot || !main) return [];
  const end = main.getBoundingClientRect().top - main.scrollTop + main.clientHeight * SCREENS;
  const last = [...main.querySelectorAll('.lines > li')].findLast((line) => line.getBoundingClientRect().top < end);
  if (!last) return [];
  const range = document.createRange();
  range.setStartBefore(head);
  range.setEndAfter(last);
  const place = range.cloneContents();
  place.append(foot.cloneNode(true));
  for (const each of place.querySelectorAll(PASSING)) each.remove();
  // What is unsent is counted anew: only its place is kept.
  const sent = document.createElement('span');
  sent.className = 'sent';
  place.querySelector('.sent')?.replaceWith(sent);
  return partsOf(place);
}

/** @param {Node} node @returns {Part[]} */
const partsOf = (node) => [...node.childNodes].flatMap((child) => partOf(child));

/** @param {Node} child @returns {Part[]} none for what is not seen */
function partOf(child) {
  if (child instanceof Text) return [child.data.replace(/\s+/g, ' ')];
  if (!(child instanceof Element)) return [];
  // Elements of ours would come alive, with nothing to show.
  const name = child.localName.includes('-') ? 'div' : child.localName;
  return [{ name, attributes: [...child.attributes].map((each) => [each.name, each.value]), children: partsOf(child) }];
}

/** @type {HTMLButtonElement[]} those of the last lines that were tapped, in order */
const tapped = [];

/**
 * Puts the last lines where the page has nothing to show yet. A button that is tapped stays down until
 * `giveWay` does what it says.
 * @param {Element} beginning @param {readonly Part[]} parts
 */
export function showLast(beginning, parts) {
  beginning.replaceChildren(...parts.map((part) => built(part)));
  beginning.classList.add('last-shown');
  beginning.addEventListener('click', ({ target }) => {
    const button = /** @type {Element} */ (target).closest('button');
    if (!button) return;
    button.ariaBusy = 'true';
    tapped.push(button);
  });
}

/** @param {Part} part @param {string | null} [namespace] @returns {Node} */
function built(part, namespace = null) {
  if (typeof part === 'string') return document.createTextNode(part);
  const { name, attributes, children } = part;
  const within = name === 'svg' ? SVG : namespace;
  const element = within ? document.createElementNS(within, name) : document.createElement(name);
  for (const [attribute, value] of attributes) element.setAttribute(attribute, value);
  element.append(...children.map((child) => built(child, within)));
  return element;
}

/** Whether the last lines are in view. */
export const isLastShown = () => document.querySelector('.last-shown') !== null;

/**
 * Puts the shell's own lines in the place of what the page began with: of the last lines at the same height, with
 * the same focus, and with what was tapped done. A button that reads otherwise by now is not the one that she meant.
 * @param {HTMLElement} shell its own lines rendered
 */
export function giveWay(shell) {
  const beginning = shell.querySelector(':scope > .beginning');
  if (!beginning) return;
  const were = [...beginning.querySelectorAll('.store button')];
  const are = /** @type {NodeListOf<HTMLElement>} */ (shell.querySelectorAll(':scope > main .store button'));
  const own = (/** @type {Element | null} */ button) => {
    const found = button ? are[were.indexOf(button)] : undefined;
    return found && wordsOf(found) === wordsOf(button) ? found : undefined;
  };
  const meant = tapped.splice(0).map((button) => own(button));
  const focused = own(document.activeElement);
  const height = beginning.querySelector('main')?.scrollTop ?? 0;
  beginning.remove();
  shell.querySelector('main')?.scrollTo(0, height);
  focused?.focus({ preventScroll: true });
  for (const button of meant) button?.click();
}

/** @param {Element | null} element */
const wordsOf = (element) => element?.textContent?.replaceAll(/\s+/g, '');
