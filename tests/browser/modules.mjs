// The page's one package.json (web/) also holds what these tests need; take it from there.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const fromWeb = createRequire(new URL('../../web/package.json', import.meta.url));

export const { chromium } = fromWeb('playwright-core');
export const { WebSocket, WebSocketServer } = fromWeb('ws');

/** axe-core's script, to be run in a page. */
export const axeSource = fromWeb('axe-core').source;

/** What the QR codes in a PNG picture say, read by an independent reader (ZXing-C++). */
export async function readQr(png) {
  const { prepareZXingModule, readBarcodes } = fromWeb('zxing-wasm/reader');
  const wasmBinary = readFileSync(fromWeb.resolve('zxing-wasm/reader/zxing_reader.wasm'));
  prepareZXingModule({ overrides: { wasmBinary } });
  const found = await readBarcodes(new Blob([png]), { formats: ['QRCode'] });
  return found.map((code) => code.text);
}
