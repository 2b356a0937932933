// One press on a standing cart or on a job: its chain of reasons, and the remedies with what will come
// of each before it is done.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, openBoard, phone, shot, until } from './browser.mjs';
import { FakeDoor } from './fake_door.mjs';
import { job, link } from './fake_floor.mjs';
import { now } from './fake_service.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage(() => {
  const doubt = link('in_doubt', 'Nobody knows where cart-2 is.', { cart: 'cart-2' });
  service.changeCart('cart-1', {
    mode: 'waiting', waits_for: { track: 'S9', cart: 'cart-2', for_turn: false, since: now() },
    why: [link('held_track', 'cart-1 waits at P15 for S9, which cart-2 holds.', { cart: 'cart-1', other: 'cart-2', piece: 'S9', since: now() }), doubt],
  });
  service.changeCart('cart-2', { mode: 'in_doubt', trouble: 'it read no tag', holds: ['P9', 'S9'], job: 4, why: [doubt] });
  service.jobs.set(4, job(4, { state: 'assigned', cart: 'cart-2' }));
});

const standing = () => by(page, 'standing');
const asked = (what) => service.requests.find((r) => r.path.endsWith(what));

test('one press on a standing cart of the drawing says why, to the root, and what can be done', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'cart-cart-1').click();
  await standing().waitFor();
  const links = await by(page, 'standing-chain').locator('li').allInnerTexts();
  assert.equal(links.length, 2);
  assert.match(links[0], /^cart-1 waits at P15 for S9, which cart-2 holds, for \d+ s\.$/);
  assert.equal(links[1], 'Nobody knows where cart-2 is.');
  const remove = by(page, 'remedy-remove-cart-2');
  assert.match(await remove.innerText(), /P9, S9 are free, and Cart 1 may drive there at once\. Job 4 waits for another cart/);
  assert.equal(await by(page, 'remedy-place-cart-2').count(), 1);
  assert.equal(await by(page, 'stop-all-in-standing').isVisible(), true);
  await shot(page, 'standing-desk');
  await remove.locator('button').click();
  assert.match(await by(page, 'follows').innerText(), /Cart 1 may drive there at once/);
  assert.equal(asked('/remove'), undefined, 'nothing is done before the question is answered');
  await by(page, 'seen-off').check();
  await by(page, 'confirm-yes').click();
  await until(() => asked('/api/carts/cart-2/remove'), 'the request');
  assertQuiet(page);
});

test('a cart in doubt is said to stand at a point', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'ask-cart-2').click();
  await by(page, 'remedy-place-cart-2').locator('button').click();
  await by(page, 'place-point').selectOption('P9');
  await by(page, 'confirm-yes').click();
  await until(() => asked('/api/carts/cart-2/place'), 'the request');
  assert.deepEqual(asked('/place').body, { point: 'P9', came_from: 'P8' });
});

test('a job that waits says why and leads to the remedy of its root', async () => {
  service.downtimes = [{ segment: 'S4', reason: 'new tape', from: now(), until: null, begun: true, clear: true }];
  service.jobs.set(3, job(3, { why: [link('no_way', 'No cart has an open way to Drying.', { job: 3, station: 'DRY' })] }));
  page = await openBoard(browser, service.url);
  await by(page, 'ask-job-3').click();
  assert.match(await by(page, 'standing-chain').innerText(), /No cart has an open way to Drying/);
  await by(page, 'remedy-up-segment-S4').locator('button').click();
  assert.match(await by(page, 'follows').innerText(), /people are clear of it/);
  await by(page, 'confirm-no').click();
  assert.equal(asked('/up'), undefined);
  await by(page, 'ask-job-3').click();
  await by(page, 'remedy-up-segment-S4').locator('button').click();
  await by(page, 'confirm-yes').click();
  await until(() => asked('/api/segments/S4/up'), 'the request');
});

test('a job that a cart has says why that cart stands', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'ask-job-4').click();
  assert.match(await standing().innerText(), /Job 4, with Cart 2[\s\S]*Nobody knows where cart-2 is/);
});

test('an operator is told why, and that a supervisor can do more', async () => {
  service.door = new FakeDoor(['Olu', 'operator', 'slip']);
  service.door.demo = 'operator';
  page = await openBoard(browser, service.url);
  await by(page, 'ask-cart-2').click();
  assert.equal(await page.locator('.remedies button').count(), 0);
  assert.match(await standing().innerText(), /A supervisor can do more/);
});

test('a driving cart of the drawing shows its way and asks nothing', async () => {
  service.changeCart('cart-1', { mode: 'driving', waits_for: null, why: [] });
  page = await openBoard(browser, service.url);
  await by(page, 'cart-cart-1').click();
  await until(async () => (await by(page, 'row-cart-1').getAttribute('class')).includes('chosen'), 'chosen');
  assert.equal(await standing().count(), 0);
});

test('on a phone a tap does it, and the keyboard does it too', async () => {
  page = await openBoard(browser, service.url, phone, { hasTouch: true, isMobile: true });
  await by(page, 'cart-cart-1').tap();
  await standing().waitFor();
  await shot(page, 'standing-phone');
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth), 0);
  await page.keyboard.press('Escape');
  await until(async () => (await standing().count()) === 0, 'closed');
  await by(page, 'ask-cart-1').focus();
  await page.keyboard.press('Enter');
  await standing().waitFor();
  await by(page, 'remedy-place-cart-2').locator('button').focus();
  await page.keyboard.press('Enter');
  await by(page, 'place-point').waitFor();
  assertQuiet(page);
});
