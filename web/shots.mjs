// Takes pictures of a running service's pages: `node web/shots.mjs URL FOLDER [--docs]`. Writes
// PAGE-1440.png and PAGE-390.png (light), and the same in dark with `-dark`; --docs writes only those
// that the README shows. Uses Debian's chromium (CHROMIUM names another).
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { chromium } from 'playwright-core';

const [url, folder, option] = process.argv.slice(2);
if (!url || !folder) {
  console.error('usage: node web/shots.mjs URL FOLDER [--docs]');
  process.exit(2);
}
await mkdir(folder, { recursive: true });
const docs = option === '--docs';
const sizes = [
  { name: '1440', width: 1440, height: 900 },
  { name: '390', width: 390, height: 844 },
];
/** What shows that it is drawn, and the sizes that the README has. */
const pages = [
  { name: 'board', path: '', ready: '[data-testid=floor] .cart', shown: ['1440', '390'] },
  { name: 'here', path: 'here/GLAZE', ready: '[data-testid=mine]', shown: ['390'] },
  { name: 'codes', path: 'codes', ready: '[data-testid=print]', shown: [] },
  { name: 'floor', path: 'floor', ready: '[data-testid=findings][data-state=checked]', shown: ['1440'] },
  { name: 'carts', path: 'carts', ready: '[data-testid=fleet] li', shown: [] },
  { name: 'figures', path: 'figures', ready: '[data-testid=hours]', shown: ['1440'] },
  { name: 'past', path: 'past', ready: 'main.past:not(.not-shown)', shown: [] },
  { name: 'people', path: 'people', ready: '[data-testid=audit]', shown: [] },
  { name: 'wall', path: 'wall', ready: '[data-testid=figures]', shown: [] },
];
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox'],
});
try {
  for (const colorScheme of docs ? ['light'] : ['light', 'dark']) {
    for (const { name: size, width, height } of sizes) {
      for (const { name, path: where, ready, shown } of pages) {
        if (docs && !shown.includes(size)) continue;
        const page = await browser.newPage({ viewport: { width, height }, colorScheme });
        await page.goto(new URL(where, url).href);
        await page.waitForSelector(ready);
        await page.waitForTimeout(1_500); // let the carts glide into view
        const file = path.join(folder, `${name}-${size}${colorScheme === 'dark' ? '-dark' : ''}.png`);
        // On a phone the whole page is the picture: that is what a person scrolls through.
        await page.screenshot({ path: file, fullPage: size === '390' && !docs });
        console.log(file);
        await page.close();
      }
    }
  }
} finally {
  await browser.close();
}
