/**
 * Reads a product's barcode from a picture: with the browser's own detector where it has one that
 * knows the symbols, else with zxing, which is fetched only then.
 */

const SYMBOLS = /** @type {const} */ (['ean_13', 'ean_8', 'upc_a', 'upc_e']);
const WASM = new URL('../vendor/zxing-wasm/reader/zxing_reader.wasm', import.meta.url).href;

/** @typedef {(picture: HTMLVideoElement | HTMLCanvasElement) => Promise<string>} Reader '' where it sees none */

/** @returns {Promise<Reader>} */
export async function barcodeReader() {
  return (await ownReader()) ?? zxingReader();
}

/** Has zxing kept on the phone while there is a network, where the browser will need it: nothing is run yet. */
export async function fetchReaderAhead() {
  if (await ownReader()) return;
  const zxing = ['es/reader/index.js', 'es/share.js', 'reader/zxing_reader.wasm'];
  await Promise.all(zxing.map((file) => fetch(new URL(`../vendor/zxing-wasm/${file}`, import.meta.url))));
}

/** @returns {Promise<Reader | null>} */
async function ownReader() {
  const { BarcodeDetector } = /** @type {any} */ (globalThis);
  if (!BarcodeDetector) return null;
  const known = await BarcodeDetector.getSupportedFormats().catch(() => []);
  if (!SYMBOLS.every((symbol) => known.includes(symbol))) return null;
  const detector = new BarcodeDetector({ formats: SYMBOLS });
  return async (picture) => (await detector.detect(picture))[0]?.rawValue ?? '';
}

/** @returns {Promise<Reader>} */
async function zxingReader() {
  const { prepareZXingModule, readBarcodes } = await import('zxing-wasm/reader');
  await prepareZXingModule({ overrides: { locateFile: () => WASM }, fireImmediately: true });
  const canvas = document.createElement('canvas');
  const pen = canvas.getContext('2d', { willReadFrequently: true });
  return async (picture) => {
    [canvas.width, canvas.height] = picture instanceof HTMLVideoElement
      ? [picture.videoWidth, picture.videoHeight]
      : [picture.width, picture.height];
    if (!pen || canvas.width === 0) return '';
    pen.drawImage(picture, 0, 0);
    const pixels = pen.getImageData(0, 0, canvas.width, canvas.height);
    const [found] = await readBarcodes(pixels, { formats: ['EAN-13', 'EAN-8', 'UPC-A', 'UPC-E'] });
    return found?.isValid ? found.text : '';
  };
}
