/** The strip above the totals: what the last tap did, and how to take it back. */

import { html, nothing } from 'lit';
import { counted, money } from './report-words.js';
import { undoShape } from './shapes.js';

/** @import { TripInHand } from './trip-in-hand.js' */

/** Sentences that are shown unasked. How the totals moved stands beside the totals. */
const AT_ONCE = 1;

/** @param {TripInHand} inHand */
export function newsStrip(inHand) {
  const { news, replanning } = inHand;
  if (!news && replanning !== 'error') return nothing;
  const sentences = news?.sentences ?? [];
  return html`
    <section class="news" aria-label="What changed" data-waiting=${news?.waiting ?? false} data-checking=${inHand.proving.checking}>
      <div class="news-head">
        <div class="news-buttons">
          ${inHand.undoWords
            ? html`<button class="plain" aria-label="Undo: ${inHand.undoWords}"
                @click=${(/** @type {Event} */ event) => ask(event, 'undo')}>${undoShape()} Undo</button>`
            : nothing}
          <button class="plain" @click=${() => inHand.dismiss()}>Seen</button>
        </div>
        <p class="cause">${news?.cause ?? 'The plan stands as it was'}</p>
        ${news?.waiting ? html`<p class="ghost-words">Working out the rest</p>` : nothing}
        ${replanning === 'error'
          ? html`<p>The plan could not be worked out again. The one in view is the last; what you tapped is noted. It is tried again once the Desk answers.</p>
              <button class="plain" @click=${() => void inHand.again()}>Try again</button>`
          : nothing}
        ${sentences.slice(0, AT_ONCE).map((sentence) => html`<p>${sentence}</p>`)}
        ${news?.waiting || replanning !== 'complete' ? nothing : html`<p class="proof-words">${proofWords(inHand)}</p>`}
      </div>
      ${sentences.length > AT_ONCE ? html`
        <details>
          <summary>${counted(sentences.length - AT_ONCE, 'more change')}</summary>
          <ul>${sentences.slice(AT_ONCE).map((sentence) => html`<li>${sentence}</li>`)}</ul>
        </details>` : nothing}
    </section>`;
}

/** How good the plan in view is, in one line: its place stays when the proof comes in. @param {TripInHand} inHand */
function proofWords({ trip, plan, proving }) {
  if (proving.checking) return 'Checking whether anything is better';
  if (!trip || !plan) return nothing;
  if (plan.proof.optimal) return 'Nothing is better: proven';
  if (plan.proof.net_optimal) return 'No lower net cost: proven';
  const gap = plan.proof.gap_cents ?? 0;
  return gap > 0 ? `At most ${money(trip, gap)} better could be had` : 'Good, but not proven best';
}

/** What changed, for a screen reader, in one go, once the replan is there. @param {TripInHand} inHand */
export function spokenNews({ news }) {
  if (!news || news.waiting) return '';
  return [`${news.cause}.`, ...news.sentences, ...news.totals].join(' ');
}

/** @param {Event} event @param {string} what */
function ask(event, what) {
  event.target?.dispatchEvent(new CustomEvent(what, { bubbles: true }));
}
