// Pan and zoom of the floor: wheel, drag, keys, buttons and two fingers; and that with the whole floor
// in sight the page still scrolls.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, drawnAt, openBoard, phone, shot, until } from './browser.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage();

/** Where a point is on the screen, and how large its sign is, px. */
const seen = (id) =>
  by(page, `point-${id}`).evaluate((g) => {
    const box = g.lastElementChild.getBoundingClientRect();
    return { x: box.x + box.width / 2, y: box.y + box.height / 2, size: box.width };
  });
/** Both looked at in one moment: the page may be scrolling. */
const apart = (...ids) =>
  by(page, 'floor').evaluate((svg, points) => {
    const [p, q] = points
      .map((id) => svg.querySelector(`[data-testid="point-${id}"]`).lastElementChild.getBoundingClientRect())
      .map((box) => ({ x: box.x + box.width / 2, y: box.y + box.height / 2 }));
    return Math.hypot(p.x - q.x, p.y - q.y);
  }, ids);
const bar = () => by(page, 'scale-bar').locator('text').innerHTML();
/** The stage is not stretched: the drawing is made for this zoom. */
const crisp = async () => !(await by(page, 'stage').getAttribute('transform')).includes('scale');
const settled = async () => {
  await page.waitForTimeout(400);
  await until(crisp, 'the drawing is made anew');
};

test('the buttons zoom in about the middle and back; signs and type keep their size', async () => {
  page = await openBoard(browser, service.url);
  const far = await apart('P1', 'P4');
  const { size } = await seen('P2');
  const type = await page.locator('.name-station').first().evaluate((t) => t.getBoundingClientRect().height);
  const scale = await bar();
  assert.equal(await by(page, 'zoom-out').isDisabled(), true);
  await by(page, 'zoom-in').click();
  await by(page, 'zoom-in').click();
  await settled();
  assert.ok(Math.abs((await apart('P1', 'P4')) / far - 2.25) < 0.01);
  assert.ok(Math.abs((await seen('P2')).size - size) < 0.5, 'the station sign');
  assert.ok(Math.abs((await page.locator('.name-station').first().evaluate((t) => t.getBoundingClientRect().height)) - type) < 0.5);
  assert.notEqual(await bar(), scale);
  await shot(page, 'zoomed-desk');
  await by(page, 'zoom-whole').click();
  await settled();
  assert.ok(Math.abs((await apart('P1', 'P4')) - far) < 0.5);
  assert.equal(await bar(), scale);
  assertQuiet(page);
});

test('the wheel scrolls the page until one is zoomed in; with Ctrl it zooms about the pointer', async () => {
  page = await openBoard(browser, service.url, { width: 1440, height: 600 });
  const far = await apart('P1', 'P4');
  const at = await seen('P13');
  await page.mouse.move(at.x, at.y);
  await page.mouse.wheel(0, 120);
  await until(() => page.evaluate(() => window.scrollY > 50), 'the page scrolls');
  assert.ok(Math.abs((await apart('P1', 'P4')) - far) < 0.5);
  await page.evaluate(() => window.scrollTo(0, 0));
  await page.waitForTimeout(100);
  await page.keyboard.down('Control');
  await page.mouse.wheel(0, -300);
  await page.keyboard.up('Control');
  await settled();
  assert.ok((await apart('P1', 'P4')) > 1.5 * far);
  const then = await seen('P13');
  assert.ok(Math.hypot(then.x - at.x, then.y - at.y) < 1, 'what is pointed at stays');
  // Zoomed in, the wheel is the floor's: out again to the whole, and only then the page's.
  for (let i = 0; i < 12; i++) await page.mouse.wheel(0, 100);
  await settled();
  assert.ok(Math.abs((await apart('P1', 'P4')) - far) < 0.5);
});

test('a drag moves the floor and presses nothing; a press without one still does', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'zoom-in').click();
  await by(page, 'zoom-in').click();
  await settled();
  const before = await seen('P13');
  await page.mouse.move(before.x + 1, before.y + 40); // on the tape of S13, which a press would close
  await page.mouse.down();
  for (let i = 1; i <= 10; i++) await page.mouse.move(before.x + 1 + 9 * i, before.y + 40 + 5 * i);
  await page.mouse.up();
  const after = await seen('P13');
  assert.ok(Math.abs(after.x - before.x - 90) < 6 && Math.abs(after.y - before.y - 50) < 6, `moved by ${after.x - before.x}, ${after.y - before.y}`);
  assert.equal(await by(page, 'confirm').count(), 0);
  await page.mouse.click(after.x + 1, after.y + 40);
  await by(page, 'confirm').waitFor();
  assert.match(await by(page, 'confirm').innerText(), /out of service/);
});

test('a press that is let go beside the floor is over: moving without a button moves nothing', async () => {
  page = await openBoard(browser, service.url);
  const box = await by(page, 'floor').boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height - 12);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2, 2);
  await page.mouse.up();
  await by(page, 'zoom-in').press('Enter');
  await by(page, 'zoom-in').press('Enter');
  await settled();
  const before = await seen('P13');
  for (let i = 1; i <= 10; i++) await page.mouse.move(box.x + box.width / 2 + 8 * i, box.y + box.height / 2 + 5 * i);
  const after = await seen('P13');
  assert.ok(Math.hypot(after.x - before.x, after.y - before.y) < 1, `moved by ${after.x - before.x}, ${after.y - before.y}`);
  assertQuiet(page);
});

test('the keyboard alone zooms and moves', async () => {
  page = await openBoard(browser, service.url);
  const far = await apart('P1', 'P4');
  await by(page, 'floor-frame').focus();
  await page.keyboard.press('+');
  await page.keyboard.press('+');
  await settled();
  const { x } = await seen('P13');
  await page.keyboard.press('ArrowLeft');
  assert.ok((await seen('P13')).x > x + 50, 'the floor moves right when one looks left');
  await page.keyboard.press('0');
  await settled();
  assert.ok(Math.abs((await apart('P1', 'P4')) - far) < 0.5);
});

test('carts keep gliding at their place while zoomed in', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'zoom-in').click();
  await settled();
  const onScreen = async () => {
    const box = await by(page, 'cart-cart-2').locator('.reach').boundingBox();
    const p9 = await seen('P9');
    return Math.hypot(box.x + box.width / 2 - p9.x, box.y + box.height / 2 - p9.y);
  };
  assert.ok((await onScreen()) < 60, 'cart-2 stands at P9');
  assert.deepEqual(await drawnAt(page, 'cart-2'), [4000, 7000]);
});

test('on a phone one finger scrolls the page, two zoom, and then one moves the floor', async () => {
  page = await openBoard(browser, service.url, phone, { hasTouch: true, isMobile: true });
  const cdp = await page.context().newCDPSession(page);
  const touch = (type, points) => cdp.send('Input.dispatchTouchEvent', { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  await by(page, 'floor-frame').scrollIntoViewIfNeeded();
  const touchAction = () => by(page, 'floor').evaluate((svg) => getComputedStyle(svg).touchAction);
  assert.equal(await touchAction(), 'pan-x pan-y');
  const far = await apart('P1', 'P4');
  const box = await by(page, 'floor').boundingBox();
  const [cx, cy] = [box.x + box.width / 2, box.y + box.height / 2];

  const scrolled = await page.evaluate(() => window.scrollY);
  await touch('touchStart', [[cx, cy]]);
  for (let i = 1; i <= 8; i++) await touch('touchMove', [[cx, cy - 12 * i]]);
  // The finger rests before it leaves: a page that is flung rolls on, and the floor with it.
  await page.waitForTimeout(150);
  await touch('touchMove', [[cx, cy - 96]]);
  await touch('touchEnd', []);
  await until(async () => Math.abs((await page.evaluate(() => window.scrollY)) - scrolled) > 40, 'the page scrolls');
  assert.ok(Math.abs((await apart('P1', 'P4')) - far) < 0.5);
  await page.evaluate((y) => window.scrollTo(0, y), scrolled);
  await page.waitForTimeout(300);

  const before = await page.evaluate(() => window.scrollY);
  assert.equal(before, scrolled, 'the page has come to rest');
  await touch('touchStart', [[cx - 30, cy], [cx + 30, cy]]);
  for (let i = 1; i <= 10; i++) await touch('touchMove', [[cx - 30 - 6 * i, cy], [cx + 30 + 6 * i, cy]]);
  await touch('touchEnd', []);
  await settled();
  const stays = await page.evaluate(() => window.scrollY);
  const zoom = (await apart('P1', 'P4')) / far;
  assert.ok(zoom > 2 && zoom < 4, `zoomed by ${zoom}`);
  assert.ok(Math.abs(stays - before) < 2, `the page stays: ${stays} and ${before}`);
  assert.equal(await touchAction(), 'none');
  await shot(page, 'zoomed-phone');

  const { x } = await seen('P13');
  await touch('touchStart', [[cx, cy]]);
  for (let i = 1; i <= 8; i++) await touch('touchMove', [[cx + 10 * i, cy]]);
  await touch('touchEnd', []);
  assert.ok((await seen('P13')).x > x + 50, 'one finger moves it');
  assertQuiet(page);
});

test('the wall always shows the whole floor', async () => {
  page = await browser.newPage();
  await page.goto(`${service.url}wall`);
  await by(page, 'floor').waitFor();
  assert.equal(await by(page, 'zoom-in').count(), 0);
});
