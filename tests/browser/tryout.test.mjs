// The drawn floor tried out on its page: against the fake service for all that can be said and shown,
// and against the real one for a builder's whole story, at both sizes.
import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, describe, test } from 'node:test';
import { assertQuiet, by, desk, launch, newPage, phone, shot, sideways, until } from './browser.mjs';
import { DemoService } from './demo_service.mjs';
import { FakeOffice, finding, tryout } from './fake_office.mjs';
import { FakeService } from './fake_service.mjs';

let browser;
before(async () => {
  browser = await launch();
});
after(async () => {
  await browser?.close();
});

const drawnCart = (page, id) => by(page, `play-${id}`).evaluate((g) => ({ ...g.dataset, x: Number(g.dataset.x), y: Number(g.dataset.y) }));
const text = (page, id) => by(page, id).innerText();

describe('against the fake service', () => {
  let service;
  let office;
  let page;
  beforeEach(async () => {
    service = await new FakeService().start();
    office = new FakeOffice().serve(service);
  });
  afterEach(async () => {
    await page?.context().close();
    await service.stop();
  });

  async function open(size = desk, more = {}) {
    page = await newPage(browser, size, more);
    await page.goto(`${service.url}floor`);
    await by(page, 'drawn-P3').waitFor({ state: 'attached' });
    await until(async () => /Carts may run|must not/.test(await text(page, 'verdict')), 'checked');
  }
  const outcome = async () => {
    await by(page, 'try').click();
    await by(page, 'try-outcome').waitFor();
  };

  test('what is drawn and chosen is what is tried; every figure shown is the answer’s', async () => {
    await open();
    await by(page, 'try-carts').fill('2');
    await by(page, 'try-hours').selectOption('8');
    await by(page, 'try-jobs').selectOption('per_hour');
    await by(page, 'try-per-hour').fill('30');
    await by(page, 'try-seed').fill('77');
    await outcome();
    assert.deepEqual(office.tried.map(([query]) => query), ['carts=2&hours=8&seed=77&jobs=per_hour&jobs_per_hour=30']);
    assert.deepEqual(office.tried[0][1], office.inUse);
    assert.match(await text(page, 'try-deliveries'), /^20\.0 an hour, 50 % of the 40\.0 that are possible at most$/);
    assert.match(await text(page, 'try-met'), /^Not met: 90 of 100 jobs delivered, 10 open at the end$/);
    assert.match(await text(page, 'try-lead'), /^half within 95 s, 95 of 100 within 6\.7 min$/);
    assert.match(await text(page, 'try-share'), /^waiting 25 %, driving loaded 30 %, empty 20 %, at stations 10 %,\s+charging 5\.0 %, resting 10 %$/);
    assert.match(await text(page, 'try-waits'), /^P10 5\.7 min in 12 waits; elsewhere 24\.3 min$/);
    assert.match(await text(page, 'try-safety'), /^0 contacts of bodies, 0 conflicts in the books, 0 gridlocks, 0 carts stuck$/);
    assert.match(await text(page, 'try-state'), /seed 77/);
    assert.equal(await page.locator('[data-testid="waits-P10"] circle').count(), 1, 'the wait is drawn at its merge');
    assert.equal(await by(page, 'waits-P15').count(), 0);
    assertQuiet(page);
  });

  test('a floor without demand is tried with a queue that is never empty; one with it, by its demand', async () => {
    await open();
    await outcome();
    assert.match(office.tried[0][0], /jobs=endless/);
    assert.equal(await text(page, 'try-met'), 'Not asked: the queue was never empty');
    assert.equal(await by(page, 'try-jobs').locator('option[value=demand]').count(), 0);
    office.inUse = { ...office.inUse, demand: [{ from: 'GLAZE', to: 'PACK', per_hour: 11.5 }] };
    await page.close();
    await open();
    assert.match(await by(page, 'try-jobs').locator('option:checked').innerText(), /demand: 11\.5 an hour/);
    await outcome();
    assert.match(office.tried[1][0], /jobs=demand/);
  });

  test('1 to N carts are compared; what one more brought stands in the table, and each can be shown', async () => {
    await open();
    await by(page, 'try-all').click();
    await by(page, 'tried-A-3').waitFor();
    assert.deepEqual(office.tried.map(([query]) => new URLSearchParams(query).get('carts')), ['1', '2', '3']);
    assert.match(await text(page, 'tried-A-3'), /30\.0\s+\+10\.0/);
    assert.doesNotMatch(await text(page, 'tried-A-1'), /\+/);
    await by(page, 'show-A-1').click();
    assert.match(await text(page, 'try-deliveries'), /^10\.0 an hour/);
    assert.equal(await by(page, 'show-A-1').getAttribute('aria-pressed'), 'true');
    assertQuiet(page);
  });

  test('the carts are watched: played, held, and moved by the slider, with words for each', async () => {
    await open();
    await outcome();
    assert.equal((await drawnCart(page, 'cart-1')).x, 2_000);
    await new Promise((done) => setTimeout(done, 300));
    assert.equal((await drawnCart(page, 'cart-1')).x, 2_000, 'nothing moves before somebody plays it');
    await by(page, 'watch-5').click();
    await until(async () => (await drawnCart(page, 'cart-1')).x > 3_000, 'it drives');
    await by(page, 'watch-5').click();
    const held = await drawnCart(page, 'cart-1');
    await new Promise((done) => setTimeout(done, 300));
    assert.equal((await drawnCart(page, 'cart-1')).x, held.x, 'held');
    await by(page, 'watch-slider').fill('30000');
    const there = await drawnCart(page, 'cart-1');
    assert.deepEqual([there.x, there.y, there.doing, there.loaded], [8_000, 0, 'handling', 'true']);
    assert.match(await text(page, 'watch'), /Minute 0:30 of 1:00/);
    assert.match(await text(page, 'watch-doing'), /Cart 1 is at a station\s+Cart 2 waits for its way/);
    const sign = by(page, 'play-cart-2').locator('text.sign');
    assert.equal(await sign.textContent(), '=');
    await by(page, 'watch-20').click();
    await until(async () => /1:00 of 1:00/.test(await text(page, 'watch')), 'to its end');
    assert.equal(await by(page, 'watch-20').getAttribute('aria-pressed'), 'false', 'it stops there');
    await by(page, 'watch-hide').click();
    assert.equal(await by(page, 'tryout-layer').count(), 0);
    assertQuiet(page);
  });

  test('with the keys alone it is tried, played and held', async () => {
    await open();
    await by(page, 'try-carts').focus();
    await page.keyboard.press('Enter');
    await by(page, 'try-outcome').waitFor();
    await by(page, 'watch-slider').focus();
    await page.keyboard.press('End');
    assert.equal((await drawnCart(page, 'cart-1')).x, 14_000);
    await page.keyboard.press('Home');
    await by(page, 'watch-20').focus();
    await page.keyboard.press('Enter');
    await until(async () => (await drawnCart(page, 'cart-1')).x > 3_000, 'it drives');
    await page.keyboard.press('Enter');
    assert.equal(await by(page, 'watch-20').getAttribute('aria-pressed'), 'false');
  });

  test('who wants less motion sees the carts placed anew once a second', async () => {
    await open(desk, { reducedMotion: 'reduce' });
    await outcome();
    await page.evaluate(() => {
      window.places = [];
      const cart = document.querySelector('[data-testid="play-cart-1"]');
      new MutationObserver(() => window.places.push([performance.now(), cart.dataset.x])).observe(cart, { attributeFilter: ['data-x'] });
    });
    await by(page, 'watch-1').click();
    await new Promise((done) => setTimeout(done, 3_200));
    const times = await page.evaluate(() => window.places.filter(([, x], k, all) => k === 0 || all[k - 1][1] !== x).map(([at]) => at));
    assert.ok(times.length >= 2 && times.length <= 5, `${times.length} places in 3 s`);
    assert.ok(times.every((at, k) => k < 2 || at - times[k - 1] > 900), times.join(' '));
  });

  test('a refusal is said; what runs is cancelled, and as the page goes ended', async () => {
    await open();
    office.tries = () => ({ status: 422, body: { detail: 'station GLAZE: its point has no tag.' } });
    await by(page, 'try').click();
    await until(async () => /its point has no tag/.test(await text(page, 'try-state')), 'said');
    assert.equal(await by(page, 'try-outcome').count(), 0);
    let let_go;
    office.tries = () => new Promise((done) => (let_go = () => done({ status: 409, body: { detail: 'ended' } })));
    await by(page, 'try').click();
    await by(page, 'try-end').waitFor();
    assert.match(await text(page, 'try-state'), /Trying 3 carts for 4 h/);
    await by(page, 'try-end').click();
    await until(() => office.ended === 1, 'ended at the service');
    let_go();
    await by(page, 'try-end').waitFor({ state: 'detached' });
    await by(page, 'try').click();
    await by(page, 'try-end').waitFor();
    await page.goto('about:blank');
    await until(() => office.ended === 2, 'ended as the page went');
    let_go();
  });

  test('carts must not run on it: nothing is tried, and the check says why', async () => {
    office.findings = [finding({ severity: 'forbids' })];
    await open();
    await until(() => by(page, 'try').isDisabled(), 'not offered');
    assert.match(await text(page, 'try-state'), /see the check/);
  });

  test('what broke is shouted, with the way to write it down', async () => {
    await open();
    office.tries = () => ({ status: 200, body: tryout(3, { body_contacts: 1, broken: 'cart-1 and cart-2 touched at 12.00 s' }) });
    await outcome();
    assert.match(await text(page, 'try-safety'), /^1 contact of bodies/);
    assert.match(await text(page, 'try-outcome'), /touched at 12\.00 s\. Do not publish this.*--carts 3 --hours 4 --seed 1\s+--saturate;/s);
  });

  test('another drawing has another letter; carts lie only on the drawing they belong to', async () => {
    await open();
    await outcome();
    await by(page, 'play-cart-1').waitFor({ state: 'attached' });
    await by(page, 'list-point').click();
    await by(page, 'choose-point-P14').click();
    await by(page, 'field-x').fill('17100');
    await by(page, 'field-x').press('Tab');
    await by(page, 'tryout-layer').waitFor({ state: 'detached' });
    assert.match(await text(page, 'try-outcome'), /^Drawing A, which is not the one on the sheet any more/);
    await by(page, 'undo').click();
    await by(page, 'play-cart-1').waitFor({ state: 'attached' });
    await by(page, 'redo').click();
    await by(page, 'try').click();
    await by(page, 'tried-B-3').waitFor();
    assert.equal(office.tried[1][1].points.find((p) => p.id === 'P14').x, 17_100);
    assert.equal(await by(page, 'tried-A-3').count(), 1);
    await shot(page, 'tryout-fake');
  });
});

describe('against the real service', () => {
  const service = new DemoService();
  before(() => service.start(20));
  after(() => service.stop());

  for (const [name, size] of [['desk', desk], ['phone', phone]]) {
    test(`on a ${name}: three carts tried and watched, the floor made worse, tried again, compared`, { timeout: 400_000 }, async () => {
      const page = await newPage(browser, size);
      await page.goto(`${service.url}floor`);
      await by(page, 'drawn-P2').waitFor({ state: 'attached' });
      await until(async () => /Carts may run/.test(await text(page, 'verdict')), 'checked', 60_000);
      await by(page, 'try-hours').selectOption('1');
      await by(page, 'try-jobs').selectOption('endless');
      await by(page, 'try-all').click();
      await by(page, 'tried-A-3').waitFor({ timeout: 120_000 });
      const perHour = async () => Number.parseFloat(await text(page, 'try-deliveries'));
      const before_ = await perHour();
      assert.ok(before_ > 60 && before_ < 130, `${before_} an hour with three carts`);
      assert.match(await text(page, 'try-safety'), /^0 contacts of bodies, 0 conflicts in the books, 0 gridlocks, 0 carts stuck$/);
      assert.match(await text(page, 'tried-A-3'), /\+\d/);

      await by(page, 'watch-slider').fill('300000');
      const [first, other] = [await drawnCart(page, 'cart-1'), await drawnCart(page, 'cart-2')];
      assert.ok(Math.hypot(first.x - other.x, first.y - other.y) > 400, 'no two carts in one place');
      await by(page, 'watch-20').click();
      await until(async () => {
        const at = await drawnCart(page, 'cart-1');
        return Math.hypot(at.x - first.x, at.y - first.y) > 1_000;
      }, 'cart 1 is under way', 20_000);
      await by(page, 'sheet').scrollIntoViewIfNeeded();
      await shot(page, `tryout-watch-${name}`);
      await by(page, 'watch-20').click();
      assert.equal(await sideways(page), 0);

      // Five minutes to put a load on at Casting: fewer deliveries, and a builder sees how many.
      await by(page, 'list-station').click();
      await by(page, 'choose-station-CAST').click();
      await by(page, 'field-load').fill('300');
      await by(page, 'field-load').press('Tab');
      await until(async () => /Carts may run/.test(await text(page, 'verdict')) && (await by(page, 'findings').getAttribute('data-state')) === 'checked', 'checked', 60_000);
      await by(page, 'try').click();
      await by(page, 'tried-B-3').waitFor({ timeout: 120_000 });
      const after_ = await perHour();
      assert.ok(after_ < 0.8 * before_, `${after_} an hour, ${before_} before`);

      // The same again gives the same.
      const said = await text(page, 'try-outcome');
      await by(page, 'try').click();
      await until(async () => (await by(page, 'try-end').count()) === 0, 'tried', 120_000);
      assert.equal(await text(page, 'try-outcome'), said);
      await by(page, 'tried').scrollIntoViewIfNeeded();
      await shot(page, `tryout-table-${name}`);
      const { entries } = await service.get('/api/audit');
      assert.ok(entries.every((e) => !/try/.test(e.what)), 'nothing was changed');
      assert.equal((await service.get('/api/floor/draft')).saved_by, null);
      assertQuiet(page);
      await page.close();
    });
  }
});
