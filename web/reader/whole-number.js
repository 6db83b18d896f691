/** Reads a count that was typed. Pure. */

/** The number, or null where it is none from 0 to 999. @param {string} text @returns {number | null} */
export const wholeNumber = (text) => (/^\s*\d{1,3}\s*$/.test(text) ? Number(text) : null);
