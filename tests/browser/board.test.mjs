// The board against the fake service: what it draws, how it glides, the form, alarms, a dropped
// link, and what a phone shows.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, drawnAt, openBoard, phone, until } from './browser.mjs';
import { floor, job, link, pathPoint } from './fake_floor.mjs';
import { now } from './fake_service.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage();

const alarm = (id, more = {}) => ({
  id, kind: 'in_doubt', cart: 'cart-1', job: null, point: null,
  text: 'Cart 1 read no tag. Look where it stands and place it.', since: now(), ...more,
});

/** cart-1 drives P15 -> P10 -> P11 -> P12 and may go as far as `authority`. */
const driving = (authority, more = {}) => ({
  mode: 'driving', trip: 2, authority, passed_at: now(), holds: ['P15', 'S18', 'P10'],
  path: [
    pathPoint(1, 'P15', 'S16'), pathPoint(2, 'P10', 'S18'), pathPoint(3, 'P11', 'S10'),
    pathPoint(4, 'P12', 'S11', { act: 'rest' }),
  ],
  ...more,
});

test('it draws every point, segment, station and cart of the floor', async () => {
  page = await openBoard(browser, service.url);
  for (const { id } of floor.points) assert.equal(await by(page, `point-${id}`).count(), 1, id);
  for (const { id } of floor.segments) assert.equal(await by(page, `segment-${id}`).count(), 1, id);
  for (const { name } of floor.stations) {
    assert.equal(await page.locator('.name-station', { hasText: name }).count(), 1, name);
  }
  for (const id of service.carts.keys()) {
    assert.equal(await by(page, `cart-${id}`).count(), 1);
    assert.equal(await by(page, `row-${id}`).count(), 1);
  }
  assert.match(await by(page, 'caution').innerText(), /not a safety function/);
  assertQuiet(page);
});

test('the drawing is to scale and y is up', async () => {
  page = await openBoard(browser, service.url);
  const at = async (id) =>
    by(page, `point-${id}`).evaluate((g) => {
      const { e, f } = g.transform.baseVal.consolidate().matrix;
      return [e, f];
    });
  const [p1, p4, p7] = [await at('P1'), await at('P4'), await at('P7')];
  assert.ok(p7[1] < p4[1], 'P7 is above P4');
  const scale = (p4[0] - p1[0]) / 12_000;
  assert.ok(Math.abs((p4[1] - p7[1]) / 7_000 - scale) < scale * 0.01);
});

test('a cart glides, and is held before the tag that was not read', async () => {
  page = await openBoard(browser, service.url);
  service.changeCart('cart-1', driving(1));
  const [from] = await drawnAt(page, 'cart-1');
  assert.ok(from > 1_900 && from <= 2_000, `it starts at x = ${from}`);
  await until(async () => (await drawnAt(page, 'cart-1'))[0] < 1_000, 'the cart moves');
  // S18 is 3.2 m: 9 s at 0.4 m/s. Long after that the cart is still short of P10.
  await new Promise((done) => setTimeout(done, 11_000));
  const [x, y] = await drawnAt(page, 'cart-1');
  const toP10 = Math.hypot(x - 0, y - 7000);
  assert.ok(toP10 > 40 && toP10 < 80, `${toP10} mm before P10`);
  service.changeCart('cart-1', driving(0, { mode: 'waiting', path: driving(0).path.slice(1), holds: ['P10'] }));
  await until(async () => {
    const [a, b] = await drawnAt(page, 'cart-1');
    return a === 0 && b === 7000;
  }, 'the read brings it to P10');
  assertQuiet(page);
});

test('held track and the end of the authority are drawn per cart', async () => {
  page = await openBoard(browser, service.url);
  service.changeCart('cart-1', driving(2));
  const held = by(page, 'held-cart-1');
  // Before the change it holds one segment too, but only one point.
  await until(async () => (await held.locator('circle').count()) === 2, 'two held points');
  assert.equal(await held.locator('path').count(), 1);
  const way = by(page, 'way-cart-1');
  await until(async () => (await way.locator('.authority-line').count()) === 2, 'two segments ahead');
  assert.equal(await way.locator('.authority-number').innerHTML(), '1');
  const hue = async (id) => (await by(page, id).getAttribute('class')).match(/hue-\d pattern-\d/)[0];
  assert.notEqual(await hue('held-cart-1'), await hue('held-cart-2'));
  assert.equal(await hue('held-cart-1'), await hue('cart-cart-1'));
});

test('the form queues a job and says so', async () => {
  page = await openBoard(browser, service.url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'DRY');
  await by(page, 'job-submit').click();
  await until(async () => (await by(page, 'job-result').innerText()).includes('Job 17 queued'), 'result');
  await until(async () => (await by(page, 'job-17').count()) === 1, 'the job is in the list');
  assert.equal(await by(page, 'job-17').getAttribute('data-state'), 'queued');
  const sent = service.requests.find((r) => r.method === 'POST');
  assert.deepEqual(sent.body, { from: 'CAST', to: 'DRY' });
  assert.match(sent.key, /^[A-Za-z0-9_-]{1,64}$/);
  assertQuiet(page);
});

test('a second job has a key of its own, with priority and note', async () => {
  page = await openBoard(browser, service.url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'DRY');
  await by(page, 'job-submit').click();
  await until(async () => (await by(page, 'job-17').count()) === 1, 'first job');
  await page.locator('.form details summary').click();
  await page.selectOption('select[name=priority]', '9');
  await page.fill('input[name=note]', 'fragile');
  await by(page, 'job-submit').click();
  await until(async () => (await by(page, 'job-18').count()) === 1, 'second job');
  const [first, second] = service.requests.filter((r) => r.method === 'POST');
  assert.deepEqual(second.body, { from: 'CAST', to: 'DRY', priority: 9, note: 'fragile' });
  assert.notEqual(first.key, second.key);
});

test('a problem is shown in its own words', async () => {
  service.answer = (method) =>
    method === 'POST'
      ? { status: 422, body: { title: 'Refused', detail: 'Drying is full. Clear a place first.' } }
      : undefined;
  page = await openBoard(browser, service.url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'DRY');
  await by(page, 'job-submit').click();
  await until(
    async () => (await by(page, 'job-result').innerText()).includes('Drying is full. Clear a place first.'),
    'the detail',
  );
});

test('a lost answer is asked for again with the same key', async () => {
  let losing = true; // the browser itself may try more than once
  service.answer = (method) => (method === 'POST' && losing ? 'hang up' : undefined);
  page = await openBoard(browser, service.url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'DRY');
  await by(page, 'job-submit').click();
  await until(async () => (await by(page, 'job-result').innerText()).includes('will not be queued twice'), 'words');
  losing = false;
  await by(page, 'job-submit').click();
  await until(async () => (await by(page, 'job-result').innerText()).includes('queued:'), 'queued');
  const keys = service.requests.filter((r) => r.method === 'POST').map((r) => r.key);
  assert.ok(keys.length >= 2);
  assert.equal(new Set(keys).size, 1);
});

test('a queued job can be cancelled, a loaded one not', async () => {
  service.jobs.set(3, job(3, { why: [link('no_cart', 'Job 3 waits: no cart is on the floor.')] }));
  service.jobs.set(4, job(4, { state: 'loaded', cart: 'cart-1' }));
  page = await openBoard(browser, service.url);
  assert.match(await by(page, 'job-3').innerText(), /no cart is on the floor/);
  assert.equal(await by(page, 'cancel-4').count(), 0);
  await by(page, 'cancel-3').click();
  await until(async () => (await by(page, 'job-3').getAttribute('data-state')) === 'cancelled', 'cancelled');
});

test('a dropped link is told in plain words, and resumed without a reload', async () => {
  page = await openBoard(browser, service.url);
  service.change({ jobs: [job(1)] });
  await until(async () => (await by(page, 'job-1').count()) === 1, 'job 1');
  service.refuseLinks = true;
  service.dropLinks();
  await until(async () => (await by(page, 'link').innerText()).startsWith('Reconnecting since'), 'words');
  assert.match(await by(page, 'stale').innerText(), /What you see is old/);
  assert.equal(await page.locator('main.stale').count(), 1);
  service.change({ jobs: [job(2)] }); // missed by the page
  service.refuseLinks = false;
  await page.waitForSelector('[data-testid=link][data-link=live]', { timeout: 15_000 });
  await until(async () => (await by(page, 'job-2').count()) === 1, 'what was missed');
  assert.equal(service.linkQueries.at(-1), '?run=run1&since=1');
  await until(async () => (await by(page, 'stale').count()) === 0, 'no more word of old things');
  assertQuiet(page);
});

test('a service that was started anew gives a new snapshot', async () => {
  service.change({ jobs: [job(1)] });
  page = await openBoard(browser, service.url);
  await until(async () => (await by(page, 'job-1').count()) === 1, 'job 1');
  service.run = 'run2';
  service.rev = 0;
  service.history = [];
  service.jobs = new Map([[9, job(9)]]);
  service.dropLinks();
  await until(async () => (await by(page, 'job-9').count()) === 1, 'the new run');
  assert.equal(await by(page, 'job-1').count(), 0);
});

test('a link that says nothing for 15 s is given up and made anew', async () => {
  page = await openBoard(browser, service.url);
  service.silent = true;
  const started = Date.now();
  await until(async () => (await by(page, 'link').innerText()).startsWith('Reconnecting'), 'given up', 25_000);
  const waited = Date.now() - started;
  assert.ok(waited > 9_000 && waited < 20_000, `given up after ${waited} ms`);
  service.silent = false;
  await page.waitForSelector('[data-testid=link][data-link=live]', { timeout: 15_000 });
});

test('carts do not glide on while the link is down', async () => {
  page = await openBoard(browser, service.url);
  service.changeCart('cart-1', driving(1));
  await until(async () => (await drawnAt(page, 'cart-1'))[0] < 1_900, 'it moves');
  service.refuseLinks = true;
  service.dropLinks();
  await by(page, 'stale').waitFor();
  const stood = await drawnAt(page, 'cart-1');
  await new Promise((done) => setTimeout(done, 1_500));
  assert.deepEqual(await drawnAt(page, 'cart-1'), stood);
});

test('alarms come first, are spoken, and go when they are over', async () => {
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'alarms').count(), 0);
  service.change({ alarms: [alarm(1), alarm(2, { kind: 'missed_tag', text: 'The tag of P3 was missed.' })] });
  await by(page, 'alarms').waitFor();
  const top = async (locator) => (await locator.boundingBox()).y;
  assert.ok((await top(by(page, 'alarms'))) < (await top(by(page, 'floor'))), 'above the floor');
  assert.match(await page.locator('[role=alert]').innerText(), /Cart 1 read no tag/);
  assert.match(await page.title(), /^\(2\)/);
  const graves = await page.locator('.alarms li').evaluateAll((all) => all.map((li) => li.className));
  assert.deepEqual(graves, ['grave', '']);
  service.change({ alarms: [] });
  await until(async () => (await by(page, 'alarms').count()) === 0, 'gone');
});

test('an alarm that somebody has seen says who, and goes below those that nobody has', async () => {
  page = await openBoard(browser, service.url);
  const alarms = [alarm(1), alarm(2, { kind: 'missed_tag', text: 'The tag of P3 was missed.' })];
  service.change({ alarms });
  await by(page, 'see-1').waitFor();
  const order = () => page.locator('.alarms li').evaluateAll((all) => all.map((li) => li.dataset.testid));
  assert.deepEqual(await order(), ['alarm-1', 'alarm-2']);
  service.answer = (method, path, body) => {
    if (path !== '/api/alarms/1/seen') return undefined;
    assert.deepEqual([method, body], ['POST', { since: alarms[0].since }]);
    alarms[0] = { ...alarms[0], seen: { by: 'Olu', at: now() } };
    service.change({ alarms });
    return { status: 200, body: alarms[0] };
  };
  await by(page, 'see-1').focus();
  await page.keyboard.press('Enter');
  await by(page, 'seen-by-1').waitFor();
  assert.match(await by(page, 'seen-by-1').innerText(), /Seen by Olu, [0-3] s ago/);
  assert.deepEqual(await order(), ['alarm-2', 'alarm-1']);
  assert.equal(await by(page, 'see-1').count(), 0);
  assert.match(await page.locator('#alarms-title').innerText(), /^2 alarms, 1 seen$/);
  assert.match(await page.title(), /^\(1\)/);
  // One that is refused stays unseen and says so.
  service.answer = () => ({ status: 404, body: { detail: 'There is no such alarm, or it has ended.' } });
  await by(page, 'see-2').click();
  await until(async () => /has ended/.test(await by(page, 'notice').innerText().catch(() => '')), 'the reason');
  assert.equal(await by(page, 'see-2').count(), 1);
  assertQuiet(page);
});

test('stop all is one press; release all asks whether people are clear', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'stop-all').click();
  await by(page, 'release-all').waitFor();
  assert.ok(service.requests.some((r) => r.path === '/api/stop'));
  await by(page, 'release-all').click();
  assert.match(await by(page, 'confirm').innerText(), /people are clear/i);
  await by(page, 'stop-all-in-dialog').click(); // still in reach while the question is open
  await until(() => service.requests.filter((r) => r.path === '/api/stop').length === 2, 'stopped again');
  await by(page, 'confirm-no').click();
  assert.ok(!service.requests.some((r) => r.path === '/api/release'));
  await by(page, 'release-all').click();
  await by(page, 'confirm-yes').click();
  await until(async () => (await by(page, 'release-all').count()) === 0, 'released');
  assert.ok(service.requests.some((r) => r.path === '/api/release'));
});

test('a stop that does not arrive points to the emergency stops', async () => {
  service.answer = (method, where) => (where === '/api/stop' ? 'hang up' : undefined);
  page = await openBoard(browser, service.url);
  await by(page, 'stop-all').click();
  await by(page, 'notice').waitFor();
  assert.match(await by(page, 'notice').innerText(), /emergency stops on the carts/);
});

const via = [{ station: 'GLAZE', what: 'unload' }, { station: 'KILN', what: 'load' }];
const ago = (ms) => new Date(Date.now() - ms).toISOString();
/** From a waiting cart to the root. */
const chain = () => [
  link('turn', 'cart-1 waits at P15 for P10, where cart-2 passes first.', { since: ago(125_000) }),
  link('held_track', 'cart-2 waits at P9 for S9, which cart-3 holds.', { since: ago(190_000) }),
  link('needs_release', 'cart-3 stands at P10 until a person releases it.'),
];

test('a waiting cart says why, and the chain unfolds to its root', async () => {
  page = await openBoard(browser, service.url);
  service.changeCart('cart-1', { mode: 'waiting', why: chain() });
  const why = by(page, 'why-cart-1');
  await why.waitFor();
  assert.match(await why.locator('summary').innerText(), /^cart-1 waits at P15 for P10, where cart-2 passes first, for 2 min\.$/);
  assert.equal(await why.locator('li').first().isVisible(), false);
  await why.locator('summary').click();
  const links = await why.locator('li').allInnerTexts();
  assert.deepEqual(links, [
    'cart-2 waits at P9 for S9, which cart-3 holds, for 3 min.',
    'cart-3 stands at P10 until a person releases it.',
  ]);
  assert.match(await why.locator('li').last().getAttribute('class'), /why-root/);
  // A change of the chain leaves it open, and one that is gone takes it away.
  service.changeCart('cart-1', { why: [...chain().slice(0, 2), link('all_stopped', 'A person has stopped all carts.')] });
  await until(async () => (await why.locator('li').last().innerText()).startsWith('A person'), 'the new root');
  assert.equal(await why.locator('li').last().isVisible(), true);
  service.changeCart('cart-1', { mode: 'driving', why: [] });
  await until(async () => (await why.count()) === 0, 'it drives');
  assertQuiet(page);
});

test('the chain is opened by the keyboard', async () => {
  service.changeCart('cart-1', { mode: 'waiting', why: chain() });
  page = await openBoard(browser, service.url);
  await by(page, 'why-cart-1').locator('summary').focus();
  await page.keyboard.press('Enter');
  assert.equal(await by(page, 'why-cart-1').locator('li').last().isVisible(), true);
});

test('what the mode says already is not said twice, only how long', async () => {
  service.changeCart('cart-1', { why: [link('resting', 'cart-1 rests at P15 and has nothing to do.', { since: ago(60_500) })] });
  page = await openBoard(browser, service.url);
  assert.match(await by(page, 'row-cart-1').innerText(), /Free, 1 min/);
  assert.equal(await by(page, 'why-cart-1').count(), 0);
});

test('a queued job says why it waits, down to the root', async () => {
  service.jobs.set(3, job(3, {
    why: [
      link('no_cart_free', 'Job 3 waits: every cart is busy; cart-2 is expected to be free first.', {
        until: ago(-115_000),
      }),
      link('handling', 'cart-2 is being unloaded at Drying.', { since: ago(5_000) }),
    ],
  }));
  page = await openBoard(browser, service.url);
  const why = by(page, 'why-job-3');
  assert.match(await why.locator('summary').innerText(), /expected to be free first, in about 1 min\.$/);
  await why.locator('summary').click();
  assert.match(await why.locator('li').innerText(), /cart-2 is being unloaded at Drying, for \d+ s\.$/);
});

test('a job shows its stops, when it is due, and that it is late', async () => {
  service.jobs.set(1, job(1, { via, stops_done: 1, state: 'loaded', due: ago(180_500) }));
  service.jobs.set(2, job(2, { due: ago(-600_000) }));
  page = await openBoard(browser, service.url);
  const first = await by(page, 'job-1').innerText();
  assert.match(first, /Casting to Drying by way of Glazing, Kiln room/);
  assert.match(first, /1 of 4 stops done, next: unload at Glazing/);
  assert.match(await by(page, 'due-1').innerText(), /^due .*, 3 min late$/);
  const second = await by(page, 'due-2').innerText();
  assert.match(second, /^due (\d+ \w+, )?\d\d:\d\d$/);
});

test('a job that a cart has says when it is expected', async () => {
  const in3 = new Date(Date.now() + 3 * 60_000).toISOString();
  service.jobs.set(1, job(1, { state: 'assigned', cart: 'cart-1', expected_pickup: in3 }));
  service.jobs.set(2, job(2));
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'expected-1').innerText(), 'At Casting in about 3 min');
  assert.equal(await by(page, 'expected-2').count(), 0, 'nobody can tell yet');
});

test('the form adds stops and a due time, and forgets them when the job is queued', async () => {
  page = await openBoard(browser, service.url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'PACK');
  await page.locator('.form details summary').click();
  for (const [i, station] of ['GLAZE', 'KILN', 'DRY'].entries()) {
    await by(page, 'stop-add').click();
    await by(page, `stop-station-${i}`).selectOption(station);
  }
  await by(page, 'stop-out-1').click(); // the kiln
  await by(page, 'stop-what-1').selectOption('load');
  await page.fill('input[name=due]', '2030-05-06T14:30');
  await by(page, 'job-submit').click();
  await until(async () => (await by(page, 'job-result').innerText()).includes('Casting to Packing by way of Glazing, Drying'), 'queued');
  const sent = service.requests.find((r) => r.method === 'POST').body;
  assert.deepEqual(sent.via, [{ station: 'GLAZE', what: 'unload' }, { station: 'DRY', what: 'load' }]);
  assert.match(sent.due, /^20\d\d-\d\d-\d\dT\d\d:\d\d:00\.000Z$/);
  const local = await page.evaluate((text) => {
    const at = new Date(text);
    return [at.getFullYear(), at.getMonth(), at.getDate(), at.getHours(), at.getMinutes()];
  }, sent.due);
  assert.deepEqual(local, [2030, 4, 6, 14, 30]);
  assert.equal(await by(page, 'stop-station-0').count(), 0);
  await by(page, 'job-submit').click();
  await until(() => service.requests.filter((r) => r.method === 'POST').length === 2, 'the second job');
  assert.deepEqual(service.requests.at(-1).body, { from: 'CAST', to: 'PACK' });
  assertQuiet(page);
});

test('a stop without a station is asked for, even when it is folded away', async () => {
  page = await openBoard(browser, service.url);
  await page.selectOption('select[name=from]', 'CAST');
  await page.selectOption('select[name=to]', 'PACK');
  await page.locator('.form details summary').click();
  await by(page, 'stop-add').click();
  await page.locator('.form details summary').click();
  assert.equal(await by(page, 'stop-station-0').isVisible(), false);
  await by(page, 'job-submit').click();
  await until(() => by(page, 'stop-station-0').isVisible(), 'it is shown');
  assert.ok(!service.requests.some((r) => r.method === 'POST'));
});

test('at most eight stops', async () => {
  page = await openBoard(browser, service.url);
  await page.locator('.form details summary').click();
  for (let i = 0; i < 8; i++) await by(page, 'stop-add').click();
  assert.equal(await by(page, 'stop-add').count(), 0);
  await by(page, 'stop-out-0').click();
  assert.equal(await by(page, 'stop-add').count(), 1);
});

test('loads at stations are shown, and a person counts them', async () => {
  page = await openBoard(browser, service.url);
  assert.equal(await page.locator('.station-row').count(), 1);
  const row = by(page, 'station-DRY');
  assert.match(await row.innerText(), /Drying\s+2 of 3 loads/);
  service.change({ stations: [{ ...service.stations.get('DRY'), loads: 3 }] });
  await until(async () => /3 of 3 loads\s*full/.test(await row.innerText()), 'full');
  await by(page, 'count-DRY').click();
  assert.match(await by(page, 'confirm').innerText(), /How many loads stand at Drying/);
  for (const wrong of ['', '-1', '1.5', '1001']) {
    await by(page, 'count-loads').fill(wrong);
    assert.equal(await by(page, 'confirm-yes').isDisabled(), true, wrong);
  }
  await by(page, 'count-loads').fill('1');
  await by(page, 'confirm-yes').click();
  await until(async () => /1 of 3 loads/.test(await row.innerText()), 'counted');
  const asked = service.requests.find((r) => r.path === '/api/stations/DRY/loads');
  assert.deepEqual(asked.body, { loads: 1 });
  assert.match(await by(page, 'notice').innerText(), /Drying has 1 of 3 loads/);
  assertQuiet(page);
});

test('a floor without counted stations has no such part', async () => {
  service.stations.clear();
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'stations').count(), 0);
});

test('placing a cart asks where its tail points when there is a choice', async () => {
  service.changeCart('cart-1', { mode: 'off_floor', path: [], holds: [] });
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'cart-cart-1').getAttribute('visibility'), 'hidden');
  await by(page, 'place-cart-1').click();
  await by(page, 'place-point').selectOption('P8');
  assert.equal(await by(page, 'confirm-yes').isDisabled(), true);
  await by(page, 'place-from').selectOption('P13');
  await by(page, 'confirm-yes').click();
  const asked = await until(() => service.requests.find((r) => r.path.endsWith('/place')), 'the request');
  assert.deepEqual(asked.body, { point: 'P8', came_from: 'P13' });
});

test('taking a cart off the floor needs a tick that it was seen off', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'remove-cart-1').click();
  assert.match(await by(page, 'confirm').innerText(), /track becomes free/);
  assert.equal(await by(page, 'confirm-yes').isDisabled(), true);
  await by(page, 'seen-off').check();
  await by(page, 'confirm-yes').click();
  await until(() => service.requests.some((r) => r.path === '/api/carts/cart-1/remove'), 'the request');
});

test('on a phone nothing scrolls sideways, and a job is queued with a thumb', async () => {
  service.change({ alarms: [alarm(1)], jobs: [job(1, { note: 'x'.repeat(200), due: now(), via, why: chain() })] });
  page = await openBoard(browser, service.url, phone, { hasTouch: true, isMobile: true });
  const sideways = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  assert.equal(sideways, 0);
  const stop = await by(page, 'stop-all').boundingBox();
  assert.ok(stop.y + stop.height <= phone.height && stop.height >= 44, 'stop all is in reach');
  await page.selectOption('select[name=from]', 'GLAZE');
  await page.selectOption('select[name=to]', 'PACK');
  const submit = by(page, 'job-submit');
  await submit.scrollIntoViewIfNeeded();
  assert.ok((await submit.boundingBox()).height >= 44);
  await submit.tap();
  await until(async () => /Job \d+ queued/.test(await by(page, 'job-result').innerText()), 'queued');
  assertQuiet(page);
});

test('the keyboard alone queues a job, and the focus can be seen', async () => {
  page = await openBoard(browser, service.url);
  await page.locator('select[name=from]').focus();
  await page.keyboard.type('Cast');
  await page.keyboard.press('Tab');
  await page.keyboard.type('Dry');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Tab');
  const focus = await page.evaluate(() => {
    const style = getComputedStyle(document.activeElement);
    return { what: document.activeElement.dataset.testid, outline: parseFloat(style.outlineWidth) };
  });
  assert.equal(focus.what, 'job-submit');
  assert.ok(focus.outline >= 2);
  await page.keyboard.press('Enter');
  await until(async () => /Job \d+ queued/.test(await by(page, 'job-result').innerText()), 'queued');
});

test('whoever asked for less motion sees carts placed, not gliding', async () => {
  page = await openBoard(browser, service.url, undefined, { reducedMotion: 'reduce' });
  service.changeCart('cart-1', driving(1));
  const seen = new Set();
  const end = Date.now() + 3_500;
  while (Date.now() < end) seen.add(String(await drawnAt(page, 'cart-1')));
  assert.ok(seen.size >= 2 && seen.size <= 5, `${seen.size} places in 3.5 s`);
});
