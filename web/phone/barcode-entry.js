/**
 * The number of a product: typed from under its barcode, or read by the camera, which is asked for
 * only when its button is tapped. Dispatches `gtin` with 14 digits.
 */

import { html, nothing } from 'lit';
import { barcodeReader } from './barcode-reader.js';
import { PageElement } from './page-element.js';
import { readProductCode } from './product-code.js';

/** Milliseconds between two looks of the camera: a hand needs longer to come to rest. */
const LOOK = 150;

class BarcodeEntry extends PageElement {
  static properties = { mend: { state: true }, camera: { state: true } };

  constructor() {
    super();
    this.mend = '';
    /** @type {MediaStream | null} */
    this.camera = null;
  }

  connectedCallback() {
    super.connectedCallback();
    document.addEventListener('visibilitychange', this.#stop);
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    document.removeEventListener('visibilitychange', this.#stop);
    this.#stop();
  }

  /** She came here to enter one. */
  firstUpdated() {
    this.querySelector('input')?.focus();
  }

  /** @param {Map<string, unknown>} changed */
  updated(changed) {
    if (changed.has('camera') && this.camera) this.querySelector('video')?.scrollIntoView({ block: 'center' });
  }

  render() {
    return html`
      ${this.camera ? html`
        <video class="viewfinder" aria-label="What the camera sees" .srcObject=${this.camera} autoplay muted playsinline></video>
        <button class="plain wide" @click=${this.#stop}>Stop the camera</button>` : nothing}
      <form class="entry" novalidate @submit=${this.#typed}>
        <label>Digits under the barcode
          <input name="digits" inputmode="numeric" autocomplete="off" enterkeyhint="search" size="14"
            aria-invalid=${this.mend !== ''} aria-describedby="digits-mend">
        </label>
        <p id="digits-mend" class="mend" role="alert">${this.mend}</p>
        <button class="go wide">Look it up</button>
      </form>
      ${!this.camera && 'mediaDevices' in navigator
        ? html`<button class="plain wide" @click=${this.#look}>Read it with the camera</button>` : nothing}`;
  }

  /** @param {SubmitEvent} event */
  #typed(event) {
    event.preventDefault();
    const form = /** @type {HTMLFormElement} */ (event.target);
    this.#take(/** @type {HTMLInputElement} */ (form.elements.namedItem('digits')).value);
  }

  /** @param {string} digits @returns {boolean} whether they are a product's number */
  #take(digits) {
    const { gtin, mend } = readProductCode(digits);
    this.mend = mend;
    if (mend) return false;
    this.#stop();
    this.dispatchEvent(new CustomEvent('gtin', { detail: gtin }));
    return true;
  }

  async #look() {
    try {
      this.camera = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
      // She may have closed the sheet while the browser asked her.
      if (!this.isConnected) this.#stop();
      const read = await barcodeReader();
      await this.updateComplete;
      while (this.camera && this.isConnected) {
        const video = this.querySelector('video');
        const digits = video && video.readyState >= 2 ? await read(video) : '';
        // A number that does not hold is a glimpse of half a symbol: the next look sees it whole.
        if (digits && readProductCode(digits).gtin && this.#take(digits)) return;
        await new Promise((resolve) => { setTimeout(resolve, LOOK); });
      }
    } catch (error) {
      this.#stop();
      this.mend = error instanceof DOMException && error.name === 'NotAllowedError'
        ? 'The camera may not be used here. Type the digits under the barcode.'
        : 'The camera could not be used. Type the digits under the barcode.';
    }
  }

  #stop = () => {
    for (const track of this.camera?.getTracks() ?? []) track.stop();
    this.camera = null;
  };
}

customElements.define('barcode-entry', BarcodeEntry);
