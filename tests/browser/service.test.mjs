// The board against the real service and its virtual carts: a job queued by the form is seen
// delivered. TAGLINE_BIN names the binary, build/tagline otherwise; without one the tests fail, so
// that they are never skipped unnoticed.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { after, before, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { assertQuiet, by, desk, drawnAt, launch, openBoard, openLive, phone, until } from './browser.mjs';

const root = fileURLToPath(new URL('../../', import.meta.url));
const binary = path.resolve(root, process.env.TAGLINE_BIN ?? 'build/tagline');
const pace = 20;
let browser;
let service;
let data;
let url;
let said = '';

async function freePort() {
  const probe = createServer();
  await new Promise((done) => probe.listen(0, '127.0.0.1', done));
  const { port } = probe.address();
  await new Promise((done) => probe.close(done));
  return port;
}

async function get(what) {
  const answer = await fetch(new URL(what, url));
  assert.equal(answer.status, 200, what);
  return answer.json();
}

before(async () => {
  assert.ok(existsSync(binary), `no ${binary}: build it, or set TAGLINE_BIN`);
  const port = await freePort();
  url = `http://127.0.0.1:${port}/`;
  data = mkdtempSync(path.join(tmpdir(), 'tagline-browser-'));
  const options = ['demo', '--port', String(port), '--pace', String(pace), '--no-jobs', '--data', data];
  options.push('--web', path.join(root, 'web', 'dist'));
  service = spawn(binary, options, { cwd: root });
  service.stdout.on('data', (text) => (said += text));
  service.stderr.on('data', (text) => (said += text));
  try {
    await until(
      async () => {
        assert.equal(service.exitCode, null, 'the service has ended');
        const health = await fetch(new URL('/api/health', url)).then((r) => r.json(), () => null);
        return health?.status === 'ok' && health.carts_connected === health.carts;
      },
      'the service is up and every cart has greeted',
      30_000,
    );
  } catch (error) {
    throw new Error(`${error.message}\nThe service said:\n${said.slice(-4_000)}`);
  }
  browser = await launch();
});

after(async () => {
  await browser?.close();
  if (service && service.exitCode === null) {
    const ended = new Promise((done) => service.once('exit', done));
    service.kill('SIGTERM');
    const slow = setTimeout(() => service.kill('SIGKILL'), 10_000);
    await ended;
    clearTimeout(slow);
  }
  if (data) rmSync(data, { recursive: true, force: true });
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
    const places = new Set();
    let cart = null;
    await until(
      async () => {
        const state = await row.getAttribute('data-state');
        if (state !== states.at(-1)) states.push(state);
        cart ??= (await get(`/api/jobs/${id}`)).cart;
        if (cart) places.add(String(await drawnAt(page, cart)));
        return state === 'delivered';
      },
      `job ${id} delivered; seen so far: ${states}`,
      200_000,
    );
    assert.ok(states.includes('loaded'), `states seen: ${states}`);
    assert.ok(places.size > 50, `the cart was drawn at ${places.size} places`);
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
