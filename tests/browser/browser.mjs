// Starts Debian's chromium and opens the board; anything the page complains about is kept, so that
// a test can end by asking for silence.
import assert from 'node:assert/strict';
import { chromium } from './modules.mjs';

export const phone = { width: 390, height: 844 };
export const desk = { width: 1440, height: 900 };

export const launch = () =>
  chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox'],
  });

export async function openBoard(browser, url, viewport = desk, more = {}) {
  const page = await browser.newPage({ viewport, ...more });
  page.complaints = [];
  page.on('pageerror', (error) => page.complaints.push(String(error)));
  page.on('console', (message) => {
    // A dropped link or a refused request is logged by the browser itself; the tests make those.
    if (message.type() === 'error' && !/WebSocket connection|Failed to load resource/.test(message.text())) {
      page.complaints.push(message.text());
    }
  });
  await page.goto(url);
  await page.waitForSelector('[data-testid=link][data-link=live]', { timeout: 15_000 });
  await page.waitForSelector('[data-testid=floor]');
  return page;
}

export const by = (page, id) => page.locator(`[data-testid="${id}"]`);

export function assertQuiet(page) {
  assert.deepEqual(page.complaints, [], 'the page complained');
}

/** Where the reader of a cart is drawn, mm. */
export async function drawnAt(page, cart) {
  return by(page, `cart-${cart}`).evaluate((g) => [Number(g.dataset.x), Number(g.dataset.y)]);
}

/** Waits until `look` gives something true; its last answer. */
export async function until(look, what, limit = 10_000) {
  const end = Date.now() + limit;
  for (;;) {
    const got = await look();
    if (got) return got;
    if (Date.now() > end) throw new Error(`timed out after ${limit / 1000} s: ${what}`);
    await new Promise((done) => setTimeout(done, 50));
  }
}
