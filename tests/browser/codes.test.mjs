// The sheet of QR codes: an independent reader reads each as the address of its station's page, on
// screen and on paper, in light and dark; and an address that no phone can reach is not printed.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, openLive, phone, shot, sideways, until } from './browser.mjs';
import { floor } from './fake_floor.mjs';
import { browser, service, setStage } from './stage.mjs';
import { readQr } from './modules.mjs';

let page;

const odd = { id: 'KILN/2 é', name: 'Kiln two', point: 'P13', capacity: null, loads: null };
setStage(() => {}, { ...floor, stations: [...floor.stations, odd] });

async function open(size = desk, more = {}) {
  page = await newPage(browser, size, more);
  await page.goto(`${service.url}codes`);
  await by(page, 'address').waitFor();
}

async function assertEachIsRead(base) {
  for (const { id } of service.floor.stations) {
    const code = page.locator(`[data-testid="code-${id}"] svg`);
    assert.deepEqual(await readQr(await code.screenshot()), [`${base}/here/${encodeURIComponent(id)}`], id);
  }
}

for (const [name, size, scheme] of [['phone', phone, 'dark'], ['desk', desk, 'light']]) {
  test(`on a ${name}, ${scheme}, each code is read as its station's address, also as printed`, async () => {
    await open(size, { colorScheme: scheme });
    await by(page, 'address').fill('http://192.0.2.10:8080');
    await by(page, 'sheet').waitFor();
    assert.equal(await page.locator('.code').count(), floor.stations.length + 1);
    await assertEachIsRead('http://192.0.2.10:8080');
    assert.equal(await sideways(page), 0);
    await shot(page, `codes-${name}`);
    await page.emulateMedia({ media: 'print' });
    await assertEachIsRead('http://192.0.2.10:8080');
    assert.equal(await by(page, 'address').isVisible(), false);
    await shot(page, `codes-print-${name}`);
    assertQuiet(page);
  });
}

test('a code opens the page of its station', async () => {
  await open();
  await by(page, 'address').fill('http://192.0.2.10:8080/');
  const [link] = await readQr(await page.locator('[data-testid="code-KILN/2 é"] svg').screenshot());
  const { pathname } = new URL(link);
  await page.close();
  page = await openLive(browser, service.url.slice(0, -1) + pathname);
  await until(async () => (await by(page, 'where').inputValue()) === 'KILN/2 é', 'it is at that station');
});

test('an address that leads a phone to itself, or is none, is not printed', async () => {
  await open();
  await page.evaluate(() => {
    window.printed = 0;
    window.print = () => (window.printed += 1);
  });
  assert.match(await by(page, 'address-trouble').innerText(), /leads each phone to itself/); // 127.0.0.1
  for (const [address, trouble] of [
    ['http://localhost:8080', /to itself/],
    ['http://[::1]:8080', /to itself/],
    ['works.example', /no address/],
    ['ftp://works.example', /http:/],
    ['http://works.example/board', /what comes after/],
  ]) {
    await by(page, 'address').fill(address);
    await until(async () => trouble.test(await by(page, 'address-trouble').innerText()), address);
    assert.equal(await by(page, 'print').isDisabled(), true, address);
    assert.equal(await by(page, 'sheet').count(), 0, address);
  }
  await by(page, 'address').fill('https://tagline.works.example');
  await by(page, 'print').click();
  assert.equal(await page.evaluate(() => window.printed), 1);
  await page.reload();
  assert.equal(await by(page, 'address').inputValue(), 'https://tagline.works.example');
});
