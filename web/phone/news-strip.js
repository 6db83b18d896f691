/** The strip above the totals: what the last tap did, and how to take it back. */

import { html, nothing } from 'lit';
import { undoShape } from './shapes.js';

/** @import { TripInHand } from './trip-in-hand.js' */

/** @param {TripInHand} inHand */
export function newsStrip(inHand) {
  const { news, replanning } = inHand;
  if (!news && replanning !== 'error') return nothing;
  const moved = news ? [...news.totals, ...news.sentences] : [];
  return html`
    <section class="news" aria-label="What changed" data-waiting=${news?.waiting ?? false}>
      <div class="news-words">
        ${news ? html`<p class="cause">${news.cause}</p>` : nothing}
        ${news?.waiting ? html`<p class="ghost-words">Working out the rest</p>` : nothing}
        ${replanning === 'error'
          ? html`<p>The plan could not be worked out again. The one in view is the last; what you tapped is noted.</p>`
          : nothing}
        ${news && moved.length > 0
          ? html`<ul>${[...news.totals, ...news.sentences].map((sentence) => html`<li>${sentence}</li>`)}</ul>`
          : nothing}
      </div>
      <div class="news-buttons">
        ${inHand.undoWords
          ? html`<button class="plain" title="Take back: ${inHand.undoWords}"
              @click=${(/** @type {Event} */ event) => ask(event, 'undo')}>${undoShape()} Undo</button>`
          : nothing}
        <button class="plain" @click=${() => inHand.dismiss()}>Seen</button>
      </div>
    </section>`;
}

/** The same for a screen reader, in one go, once the replan is there. @param {TripInHand} inHand */
export function spokenNews({ news }) {
  if (!news || news.waiting) return '';
  return [`${news.cause}.`, ...news.sentences, ...news.totals].join(' ');
}

/** @param {Event} event @param {string} what */
function ask(event, what) {
  event.target?.dispatchEvent(new CustomEvent(what, { bubbles: true }));
}
