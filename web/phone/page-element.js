/**
 * What all our elements share: they render into the page itself, so that one style sheet, one
 * set of labels and one focus order hold for the whole page.
 */

import { LitElement, html, nothing } from 'lit';

/** @import { Reported } from './phone-store.js' */
/** @import { TemplateResult } from 'lit' */

export class PageElement extends LitElement {
  createRenderRoot() {
    return this;
  }

  /** Asks the shell to note what happened. @param {readonly Reported[]} reports */
  report(reports) {
    this.dispatchEvent(new CustomEvent('report', { detail: reports, bubbles: true }));
  }
}

/**
 * A sheet that comes up from the bottom edge, in reach of the thumb: a modal `<dialog>`, which
 * keeps focus inside, closes on Escape and gives focus back to where it was.
 */
export class Sheet extends PageElement {
  static properties = { heading: {}, up: { state: true } };

  constructor() {
    super();
    this.heading = '';
    /** What it holds is there only while it is up: a camera goes off with it, and nothing is asked unseen. */
    this.up = false;
  }

  get dialog() {
    return this.querySelector('dialog');
  }

  /** Shows the sheet with what its properties say by now. */
  async show() {
    this.up = true;
    await this.updateComplete;
    if (this.dialog?.open) return;
    this.dialog?.showModal();
    this.dialog?.querySelector('.sheet-inside')?.scrollTo(0, 0);
    // What the sheet is about is read first, where nothing is to be typed at once; the browser would start
    // at the first button.
    if (!this.querySelector('[autofocus]')) this.querySelector('h2')?.focus();
  }

  close() {
    this.dialog?.close();
  }

  /** What was asked for stands below what was typed: it comes up into view. */
  seeAnswer() {
    this.querySelector('.answer')?.scrollIntoView({ block: 'nearest' });
  }

  /** @returns {unknown} */
  content() {
    return nothing;
  }

  /** @returns {TemplateResult} */
  render() {
    return html`
      <dialog class="sheet" aria-labelledby="${this.localName}-heading"
        @close=${() => { this.up = false; }}
        @click=${(/** @type {MouseEvent} */ event) => event.target === this.dialog && this.close()}>
        <div class="sheet-inside">
          <h2 id="${this.localName}-heading" tabindex="-1">${this.heading}</h2>
          ${this.up ? this.content() : nothing}
        </div>
        <div class="sheet-foot"><button class="plain wide" @click=${() => this.close()}>Close</button></div>
      </dialog>`;
  }
}
