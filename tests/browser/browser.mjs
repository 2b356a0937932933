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

/** A page that keeps what it complains about. */
export async function newPage(browser, viewport = desk, more = {}) {
  const page = await browser.newPage({ viewport, ...more });
  page.complaints = [];
  page.on('pageerror', (error) => page.complaints.push(String(error)));
  page.on('console', (message) => {
    // A dropped link or a refused request is logged by the browser itself; the tests make those.
    if (message.type() === 'error' && !/WebSocket connection|Failed to load resource/.test(message.text())) {
      page.complaints.push(message.text());
    }
  });
  return page;
}

export async function openLive(browser, url, viewport = desk, more = {}) {
  const page = await newPage(browser, viewport, more);
  await page.goto(url);
  await page.waitForSelector('[data-testid=link][data-link=live]', { timeout: 30_000 });
  return page;
}

export async function openBoard(browser, url, viewport = desk, more = {}) {
  const page = await openLive(browser, url, viewport, more);
  await page.waitForSelector('[data-testid=floor]');
  return page;
}

/** How far the page can be scrolled sideways, px: nothing, on every page. */
export const sideways = (page) =>
  page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);

/** For people to look at: a picture in the folder that TAGLINE_SHOTS names, if it names one. */
export async function shot(page, name) {
  const folder = process.env.TAGLINE_SHOTS;
  if (folder) await page.screenshot({ path: `${folder}/${name}.png`, fullPage: false });
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
