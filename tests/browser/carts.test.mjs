// A builder adds a cart, a virtual one greets with the key that was shown, is placed, taken off and
// revoked; against the real service, whose demo carts go on all the while.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { after, before, test } from 'node:test';
import { assertQuiet, by, desk, launch, newPage, phone, shot, until } from './browser.mjs';
import { binary, DemoService } from './demo_service.mjs';

const pace = 20;
const service = new DemoService();
let browser;
/** The virtual cart's process, and what it said. */
let cart;
let said = '';

before(async () => {
  await service.start(pace);
  browser = await launch();
});

after(async () => {
  cart?.kill('SIGKILL');
  await browser?.close();
  await service.stop();
});

const read = (id) => service.get(`/api/carts/${id}`);
const modes = async () => (await service.get('/api/carts')).carts.map(({ id, mode }) => [id, mode]);
const run = async () => (await fetch(new URL('/api/health', service.url)).then((r) => r.json(), () => ({}))).run;

/** Once the demo's own carts are there again, in a run with `count` carts. */
const newRun = (count) =>
  until(
    async () => {
      const list = await fetch(new URL('/api/carts', service.url)).then((r) => r.json(), () => null);
      return list?.carts?.length === count && list.carts.filter((c) => /^cart-[1-5]$/.test(c.id)).every((c) => c.connected);
    },
    `a run with ${count} carts, and the demo’s own have greeted`,
    60_000,
  );

async function openCarts(size) {
  const page = await newPage(browser, size);
  await page.goto(`${service.url}carts`);
  await by(page, 'cart-cart-1').waitFor();
  return page;
}

test('added, greeted, placed, taken off, revoked', { timeout: 300_000 }, async () => {
  const page = await openCarts(desk);
  const standing = await modes();
  assert.equal(standing.length, 5);
  assert.equal(await by(page, 'new-cart-id').inputValue(), 'cart-6', 'the next free name is there already');
  const homes = await by(page, 'new-cart-home').locator('option').allInnerTexts();
  assert.ok(!homes.includes('B1'), 'another cart’s home is not offered');
  const home = homes.at(-1);
  await by(page, 'new-cart-home').selectOption(home);
  await by(page, 'add-cart').click();
  await by(page, 'shown-key').waitFor();
  const key = await by(page, 'key-text').innerText();
  assert.match(key, /^([0-9A-Z]{4}-){6}[0-9A-Z]{4}$/);
  assert.equal(await by(page, 'key-address').innerText(), `${service.url.replace('http', 'ws')}cart`);
  await page.locator('[data-testid=key-virtual] summary').click();
  const file = await by(page, 'key-file').innerText();
  await newRun(6);
  await until(async () => /Off the floor, not connected/.test(await by(page, 'standing-cart-6').innerText()), 'the page shows it');
  assert.ok(await by(page, 'shown-key').isVisible(), 'the key outlives the new run');
  await shot(page, 'carts-key-desk');
  for (const [id, mode] of await modes()) {
    if (id !== 'cart-6') assert.ok(!['off_floor', 'in_doubt', 'needs_release'].includes(mode), `${id} ${mode}`);
  }

  // What the page says to do, done.
  const fleet = path.join(service.data, 'cart-6.json');
  writeFileSync(fleet, file);
  cart = spawn(binary, ['cart', '--floor', path.join(service.data, 'demo.floor.json'), '--fleet', fleet, '--url', await by(page, 'key-address').innerText(), '--pace', String(pace)]);
  for (const output of [cart.stdout, cart.stderr]) output.on('data', (text) => (said += text));
  await until(async () => (await read('cart-6')).connected, 'it greets with that key', 20_000);
  await until(async () => /connected/.test(await by(page, 'standing-cart-6').innerText()) && !/not connected/.test(await by(page, 'standing-cart-6').innerText()), 'and the page shows it');

  // The key is nowhere any more once it is put away.
  await by(page, 'key-away').click();
  assert.equal(await by(page, 'shown-key').count(), 0);
  assert.equal((await page.content()).includes(key), false);
  for (const where of ['/api/fleet', '/api/audit', '/api/carts']) {
    assert.equal(JSON.stringify(await service.get(where)).includes(key), false, where);
  }
  assert.equal(service.said.includes(key), false, 'the log does not show it');

  // One cart is lifted off so that the new one fits the floor whatever its limit.
  await service.post('/api/carts/cart-5/stop');
  await service.post('/api/carts/cart-5/remove');
  await service.post('/api/carts/cart-6/place', { point: home });
  await until(async () => !['off_floor', 'in_doubt'].includes((await read('cart-6')).mode), 'it is on the floor');
  await until(async () => !/Off the floor/.test(await by(page, 'standing-cart-6').innerText()), 'and the page shows it');
  await by(page, 'revoke-cart-6').click();
  assert.match(await by(page, 'confirm').innerText(), /Not yet: Cart 6 is on the floor/);
  assert.ok(await by(page, 'confirm-yes').isDisabled());
  await shot(page, 'carts-not-yet-desk');
  await by(page, 'confirm-no').click();
  const refused = await fetch(new URL('/api/fleet/cart-6/revoke', service.url), { method: 'POST' });
  assert.equal(refused.status, 409, 'nor may anybody who asks past the page');

  await service.post('/api/carts/cart-6/stop');
  await service.post('/api/carts/cart-6/remove');
  await until(async () => /Off the floor/.test(await by(page, 'standing-cart-6').innerText()), 'off the floor');
  const before = await run();
  assert.ok(before);
  // By keyboard alone.
  await by(page, 'revoke-cart-6').focus();
  await page.keyboard.press('Enter');
  await by(page, 'confirm-yes').focus();
  await page.keyboard.press('Enter');
  await until(async () => ![before, undefined].includes(await run()), 'a new run', 60_000);
  await newRun(5);
  await until(() => /4401/.test(said), 'its link is closed with the reason', 20_000);
  await until(async () => (await by(page, 'cart-cart-6').count()) === 0, 'and it is off the list');
  const { entries } = await service.get('/api/audit');
  assert.deepEqual(
    entries.filter((e) => /_cart$/.test(e.what) && e.about.startsWith('fleet/')).map((e) => `${e.what} ${e.about} ${e.outcome}`),
    ['revoke_cart fleet/cart-6 done', 'revoke_cart fleet/cart-6 refused: conflict', 'add_cart fleet/cart-6 done'],
  );
  assertQuiet(page);
  await page.close();
});

test('a new key on a phone: the old one ends, nobody else stops', { timeout: 120_000 }, async () => {
  const page = await openCarts(phone);
  const before = await run();
  await by(page, 'key-cart-2').click();
  assert.match(await by(page, 'confirm').innerText(), /keeps that track from the others/);
  await by(page, 'confirm-yes').click();
  await by(page, 'shown-key').waitFor();
  await shot(page, 'carts-key-phone');
  await until(async () => !(await read('cart-2')).connected, 'its link is closed');
  assert.notEqual((await read('cart-2')).mode, 'off_floor', 'it keeps its place');
  assert.ok((await read('cart-1')).connected);
  assert.equal(await run(), before, 'the run goes on');
  assertQuiet(page);
  await page.close();
});
