// The board against the real service and its virtual carts: a job queued by the form is seen
// delivered.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { Ledger } from './ledger.mjs';
import { assertQuiet, by, desk, launch, openBoard, openLive, phone, until } from './browser.mjs';
import { DemoService } from './demo_service.mjs';

const pace = 20;
const service = new DemoService();
let browser;
let url;
/** Keeps accounts of its own from the beginning on. */
let ledger;

const get = (what) => service.get(what);

before(async () => {
  await service.start(pace);
  url = service.url;
  ledger = new Ledger(url);
  browser = await launch();
});

after(async () => {
  ledger?.close();
  await browser?.close();
  await service.stop();
});

/** Queues CAST to DRY by the form; the job's number. */
async function queueByForm(page) {
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'DRY');
  await by(page, 'job-submit').click();
  const result = await until(
    async () => /Job (\d+) queued/.exec(await by(page, 'job-result').innerText()),
    'the form says which job was queued',
  );
  return Number(result[1]);
}

for (const [name, viewport] of [['a desk', desk], ['a phone', phone]]) {
  test(`a job queued by the form on ${name} is seen delivered`, { timeout: 240_000 }, async () => {
    const page = await openBoard(browser, url, viewport);
    const id = await queueByForm(page);
    const row = by(page, `job-${id}`);
    const states = [];
    let cart = null;
    // Where every cart is drawn, frame by frame.
    await page.evaluate(() => {
      window.places = {};
      const look = () => {
        for (const g of document.querySelectorAll('[data-testid^=cart-cart-]')) {
          (window.places[g.dataset.testid] ??= new Set()).add(`${g.dataset.x} ${g.dataset.y}`);
        }
        requestAnimationFrame(look);
      };
      look();
    });
    await until(
      async () => {
        const state = await row.getAttribute('data-state');
        if (state !== states.at(-1)) states.push(state);
        cart ??= (await get(`/api/jobs/${id}`)).cart;
        return state === 'delivered';
      },
      `job ${id} delivered; seen so far: ${states}`,
      200_000,
    );
    assert.ok(states.includes('loaded'), `states seen: ${states}`);
    const places = await page.evaluate((id) => window.places[`cart-${id}`].size, cart);
    assert.ok(places > 50, `the cart was drawn at ${places} places`);
    const job = await get(`/api/jobs/${id}`);
    assert.equal(job.state, 'delivered');
    assert.equal(job.from, 'CAST');
    assert.equal(job.to, 'DRY');
    assertQuiet(page);
    await page.close();
  });
}

test('a job with a stop in between and a due time is driven stop by stop', { timeout: 300_000 }, async () => {
  const page = await openBoard(browser, url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'DRY');
  await page.locator('.form details summary').click();
  await by(page, 'stop-add').click();
  await by(page, 'stop-station-0').selectOption('GLAZE');
  await page.fill('input[name=due]', '2000-01-02T03:04');
  await by(page, 'job-submit').click();
  const [, id] = await until(
    async () => /Job (\d+) queued/.exec(await by(page, 'job-result').innerText()),
    'the form says which job was queued',
  );
  const made = await get(`/api/jobs/${id}`);
  assert.deepEqual(made.via, [{ station: 'GLAZE', what: 'unload' }]);
  assert.match(await by(page, `due-${id}`).innerText(), /late/);
  const seen = new Set();
  await until(
    async () => {
      const job = await get(`/api/jobs/${id}`);
      seen.add(job.stops_done);
      return job.state === 'delivered';
    },
    `job ${id} delivered; stops done so far: ${[...seen]}`,
    280_000,
  );
  assert.deepEqual([...seen].sort(), [0, 1, 2, 3]);
  await until(async () => (await by(page, `job-${id}`).innerText()).includes('3 of 3 stops done'), 'the list says so');
  assertQuiet(page);
  await page.close();
});

test('with all carts stopped, a job and every cart say why they stand, as the service does', { timeout: 120_000 }, async () => {
  const page = await openBoard(browser, url);
  await by(page, 'stop-all').click();
  await by(page, 'release-all').waitFor();
  const id = await queueByForm(page);
  const { carts } = await get('/api/carts');
  for (const cart of carts) {
    const row = by(page, `why-${cart.id}`);
    await until(async () => /A person has stopped all carts/.test(await row.innerText().catch(() => '')), cart.id, 20_000);
    const { why } = await get(`/api/carts/${cart.id}/why`);
    assert.equal(why.at(-1).kind, 'all_stopped', cart.id);
  }
  const row = by(page, `why-job-${id}`);
  await until(
    async () => {
      const { why } = await get(`/api/jobs/${id}/why`);
      const shown = await row.innerText().catch(() => '');
      return why.length > 0 && shown.startsWith(why[0].text) && why;
    },
    'the job says why, in the words of the service',
    20_000,
  );
  await by(page, `cancel-${id}`).click();
  await by(page, 'release-all').click();
  await by(page, 'confirm-yes').click();
  await until(async () => (await by(page, 'release-all').count()) === 0, 'released');
  assertQuiet(page);
  await page.close();
});

test('the board draws the whole floor of the service', { timeout: 60_000 }, async () => {
  const page = await openBoard(browser, url);
  const floor = await get('/api/floor');
  const { carts } = await get('/api/carts');
  assert.equal(await page.locator('[data-testid^="point-"]').count(), floor.points.length);
  assert.equal(await page.locator('[data-testid^="segment-"]').count(), floor.segments.length);
  assert.equal(await page.locator('.name-station').count(), floor.stations.length);
  assert.equal(await page.locator('.cart:not([visibility=hidden])').count(), carts.length);
  await page.close();
});

test('stop all stops the carts on the board until a person releases them', { timeout: 120_000 }, async () => {
  const page = await openBoard(browser, url);
  await queueByForm(page);
  await until(async () => (await page.locator('.cart-row[data-mode=driving]').count()) > 0, 'a cart drives', 60_000);
  await by(page, 'stop-all').click();
  await until(
    async () => (await page.locator('.cart-row[data-mode=driving]').count()) === 0,
    'no cart drives any more',
  );
  await by(page, 'alarms').waitFor();
  // Place and mode of every cart, so that a failure tells which one moved and what it claimed.
  const standing = async () => {
    const drawn = await page
      .locator('.cart')
      .evaluateAll((all) => all.map((g) => `${g.dataset.testid} ${g.dataset.x} ${g.dataset.y} ${g.dataset.mode}`));
    return drawn.sort();
  };
  // What was under way is read and drawn to its end; then nothing moves any more.
  let stood = await standing();
  await until(
    async () => {
      await new Promise((done) => setTimeout(done, 1_000));
      const before = stood;
      stood = await standing();
      return String(before) === String(stood);
    },
    'the carts come to a stand',
    15_000,
  );
  await new Promise((done) => setTimeout(done, 3_000));
  assert.deepEqual(await standing(), stood);
  await by(page, 'release-all').click();
  await by(page, 'confirm-yes').click();
  await until(
    async () => (await page.locator('.cart-row[data-mode=driving]').count()) > 0,
    'a cart drives again after the release',
    30_000,
  );
  await page.close();
});

test('the operator’s page sends a load in two presses and says what becomes of it', { timeout: 240_000 }, async () => {
  const page = await openLive(browser, `${url}here/CAST`, phone);
  await by(page, 'send').click();
  await by(page, 'choose-DRY').click();
  const card = by(page, 'mine').locator('.card');
  const said = new Set();
  await until(
    async () => {
      if ((await by(page, 'ended').count()) > 0) return true;
      const words = await card.locator('.card-state').innerText({ timeout: 500 }).catch(() => null);
      if (words) said.add(words.replace(/Cart \d/, 'Cart N'));
      return false;
    },
    `delivered; said so far: ${[...said]}`,
    200_000,
  );
  assert.match(await by(page, 'ended').innerText(), /To Drying job \d+\s+Delivered/);
  for (const words of ['Cart N is on its way to Casting', 'Cart N is loading at Casting', 'Cart N is on its way to Drying']) {
    assert.ok(said.has(words), `“${words}” is not among ${[...said]}`);
  }
  assertQuiet(page);
  await page.close();
});

test('a segment, a station and a cart go out of service and come back', { timeout: 120_000 }, async () => {
  const page = await openBoard(browser, url);
  for (const [kind, id] of [['segment', 'S60'], ['station', 'SORT'], ['cart', 'cart-5']]) {
    await by(page, 'take-out').click();
    await by(page, 'down-kind').selectOption(kind);
    await by(page, 'down-which').selectOption(id);
    await by(page, 'down-reason').fill('looked after');
    await by(page, 'confirm-yes').click();
    await by(page, `down-${kind}-${id}`).waitFor();
    const { downtimes } = await get('/api/downtimes');
    const down = downtimes.find((d) => d[kind] === id);
    assert.equal(down?.reason, 'looked after');
    assert.equal(down.begun, true);
    await by(page, `up-${kind}-${id}`).click();
    await by(page, 'confirm-yes').click();
    await until(async () => (await by(page, `down-${kind}-${id}`).count()) === 0, `${id} is back`);
  }
  assert.deepEqual((await get('/api/downtimes')).downtimes, []);
  assertQuiet(page);
  await page.close();
});

test('the zones of the demo works are stopped and released', { timeout: 60_000 }, async () => {
  const page = await openBoard(browser, url, phone);
  const { zones } = await get('/api/zones');
  assert.deepEqual(zones.map((z) => z.id).sort(), ['DRYING', 'KILNS']);
  await by(page, 'stop-zone-KILNS').click();
  await by(page, 'release-zone-KILNS').waitFor();
  const stopped = async () => (await get('/api/zones')).zones.filter((z) => z.stopped).map((z) => z.id);
  assert.deepEqual(await stopped(), ['KILNS']);
  await until(async () => /Zone stopped/.test(await by(page, 'alarms').innerText().catch(() => '')), 'the alarm');
  await by(page, 'release-zone-KILNS').click();
  await by(page, 'confirm-yes').click();
  await by(page, 'stop-zone-KILNS').waitFor();
  assert.deepEqual(await stopped(), []);
  assertQuiet(page);
  await page.close();
});

test('the figures equal an account that somebody else kept', { timeout: 300_000 }, async () => {
  const quarter = 15 * 60_000;
  const aligned = Math.ceil(ledger.steps[0].at / quarter) * quarter;
  const jobs = async () => (await get('/api/jobs?limit=1000')).jobs.filter((j) => j.state === 'delivered');
  // At least a full quarter, and some seconds in which its sums come to be written.
  const behind = 30_000 * pace;
  await until(() => ledger.latest > aligned + quarter + behind, 'a quarter of an hour has passed', 120_000);
  const from = new Date(aligned);
  const to = new Date(Math.floor((ledger.latest - behind) / quarter) * quarter);
  const range = `from=${from.toISOString()}&to=${to.toISOString()}`;
  const figures = await get(`/api/figures?${range}`);
  const span = (to - from) / 1_000;
  const own = ledger.times(from.getTime(), to.getTime());
  assert.equal(figures.carts.length, own.size);
  const seen = new Set();
  for (const row of figures.carts) {
    const all = Object.entries(row).filter(([key]) => key.endsWith('_s'));
    const sum = all.reduce((total, [, s]) => total + s, 0);
    assert.ok(Math.abs(sum - span) <= 6, `${row.cart}: ${sum} s of ${span} s`);
    for (const [key, s] of all) {
      const kept = own.get(row.cart)[key.slice(0, -2)] ?? 0;
      // A board is told 100 ms later at most, which is two seconds here, at each change.
      assert.ok(Math.abs(s - kept) <= 20 + span * 0.01, `${row.cart} ${key}: ${s} s, by the ledger ${kept.toFixed(0)} s`);
      if (s > 0) seen.add(key);
    }
  }
  for (const use of ['moving_s', 'handling_s', 'idle_s']) assert.ok(seen.has(use), `nobody was ${use}`);
  // Jobs of the whole time, with the least that so many per cent are not above.
  const early = new Date(aligned - 24 * 3_600_000).toISOString();
  const soon = new Date((Math.floor(ledger.latest / quarter) + 2) * quarter).toISOString();
  const day = await get(`/api/figures?from=${early}&to=${soon}`);
  const leads = (await jobs())
    .map((j) => Date.parse(j.ended_at) - Date.parse(j.created))
    .sort((a, b) => a - b);
  assert.ok(leads.length >= 2, `${leads.length} deliveries`);
  assert.equal(day.delivered, leads.length);
  const rank = (p) => Math.round(leads.find((_, i) => (i + 1) / leads.length >= p) / 1_000);
  assert.deepEqual(day.lead_s, { median: rank(0.5), p90: rank(0.9) });
  assert.equal(day.hours.reduce((n, h) => n + h.delivered, 0), leads.length);
  assert.ok(day.tags.reduce((n, t) => n + t.read, 0) > 20);
  const csv = await (await fetch(new URL(`/api/figures/carts.csv?${range}`, url))).text();
  const row = figures.carts[0];
  const uses = ['moving_s', 'waiting_s', 'handling_s', 'charging_s', 'idle_s', 'out_s'];
  assert.equal(csv.split('\r\n')[1], [row.cart, ...uses.map((u) => row[u])].join(','));
  const page = await openLive(browser, `${url}figures`, phone);
  await by(page, 'time-All').waitFor();
  assertQuiet(page);
  await page.close();
});
