/** When the browser has painted, and when it is at rest. */

/** Resolves when what was rendered is on the screen. @returns {Promise<void>} */
export const painted = () => new Promise((resolve) => {
  // A hidden page has no frames.
  if (document.visibilityState === 'hidden') resolve();
  else requestAnimationFrame(() => setTimeout(resolve));
});

/** Runs what may wait once the page is painted and at rest. @param {() => void} act */
export function whenIdle(act) {
  if ('requestIdleCallback' in window) requestIdleCallback(act, { timeout: 3_000 });
  else setTimeout(act, 1_000);
}
