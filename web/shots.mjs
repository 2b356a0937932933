// Takes pictures of a running board: `node web/shots.mjs URL FOLDER [--docs]`. Writes
// board-1440.png and board-390.png (light), and the same in dark with `-dark`; --docs writes only
// the two that the README shows. Uses Debian's chromium (CHROMIUM names another).
import { mkdir } from 'node:fs/promises';
import path from 'node:path';
import { chromium } from 'playwright-core';

const [url, folder, option] = process.argv.slice(2);
if (!url || !folder) {
  console.error('usage: node web/shots.mjs URL FOLDER [--docs]');
  process.exit(2);
}
await mkdir(folder, { recursive: true });
const sizes = [
  { name: '1440', width: 1440, height: 900 },
  { name: '390', width: 390, height: 844 },
];
const schemes = option === '--docs' ? ['light'] : ['light', 'dark'];
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox'],
});
try {
  for (const scheme of schemes) {
    for (const { name, width, height } of sizes) {
      const page = await browser.newPage({ viewport: { width, height }, colorScheme: scheme });
      await page.goto(url);
      await page.waitForSelector('[data-testid=link][data-link=live]');
      await page.waitForSelector('[data-testid=floor] .cart');
      await page.waitForTimeout(1_500); // let the carts glide into view
      const file = path.join(folder, `board-${name}${scheme === 'dark' ? '-dark' : ''}.png`);
      // On a phone the whole page is the picture: that is what a person scrolls through.
      await page.screenshot({ path: file, fullPage: name === '390' && option !== '--docs' });
      console.log(file);
      await page.close();
    }
  }
} finally {
  await browser.close();
}
