/** Modules that are asked for before anything imports them: the page lists them in templates, by name. */

/** The screen without any in the address. */
export const AISLE = 'aisle';

/** The screen that the address names, whether there is one of that name or not. */
export function routed() {
  return location.hash.replace(/^#\/?/, '').split('/')[0] || AISLE;
}

/** Asks for all modules of these names at once; for those asked for before, not again. @param {...string} names */
export function askFor(...names) {
  for (const name of names) {
    const links = /** @type {HTMLTemplateElement | null} */ (document.getElementById(`modules-${name}`));
    if (links) document.head.append(links.content);
  }
}
