// What is out of service, and zones, on the board: said before it is done, shown on the floor and in
// the list, brought back; at both sizes.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, openBoard, openLive, phone, shot, sideways, until } from './browser.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage(() => {
  service.zones = [
    { id: 'KILNS', name: 'Kilns', segments: ['S15'], stopped: false },
    { id: 'AISLE', name: 'Aisle', segments: ['S13', 'S14'], stopped: false },
  ];
});

const asked = (path) => service.requests.filter((r) => r.method === 'POST' && r.path === path);
const text = (id) => by(page, id).innerText();
const inHours = (hours) => new Date(Date.now() + hours * 3_600_000);
/** Presses the middle of a segment on the floor, as a mouse does. */
async function pointAt(segment) {
  const [x, y] = await by(page, `segment-${segment}`).evaluate((line) => {
    const at = line.getPointAtLength(line.getTotalLength() / 2).matrixTransform(line.getScreenCTM());
    return [at.x, at.y];
  });
  await page.mouse.click(x, y);
}
/** What a datetime-local field takes, here and in the page: both have the machine's time zone. */
const local = (at) => new Date(at - at.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
const down = (more) => ({ reason: '', from: new Date().toISOString(), until: null, begun: true, clear: false, ...more });

for (const [name, size, more] of [['phone', phone, { hasTouch: true, isMobile: true }], ['desk', desk, {}]]) {
  test(`on a ${name} a segment goes out of service, and comes back`, async () => {
    page = await openBoard(browser, service.url, size, more);
    assert.match(await text('closing'), /Everything is in service/);
    await by(page, 'take-out').click();
    assert.equal(await by(page, 'confirm-yes').isDisabled(), true, 'which one is not said yet');
    await by(page, 'down-which').selectOption('S8');
    assert.match(await text('confirm'), /Take segment S8 \(P8 to P9\) out of service\?/);
    assert.match(await text('what-follows'), /Carts go round it.*Secure it yourself/s);
    assert.equal(asked('/api/segments/S8/down').length, 0, 'nothing is done before the answer');
    await by(page, 'down-reason').fill('new tape');
    await by(page, 'confirm').evaluate((d) => d.scrollTo(0, 0));
    await shot(page, `down-question-${name}`);
    await by(page, 'confirm-yes').click();
    await by(page, 'down-segment-S8').waitFor();
    assert.deepEqual(asked('/api/segments/S8/down').map((r) => r.body), [{ reason: 'new tape' }]);
    assert.match(await text('down-segment-S8'), /not clear: a cart is on it[\s\S]*since \d\d:\d\d[\s\S]*new tape/);
    assert.ok((await by(page, 'closed-S8').locator('.cross').count()) >= 1, 'crossed out on the floor');
    service.change({ downtimes: service.downtimes.map((d) => ({ ...d, clear: true })) });
    await until(async () => /no cart on it/.test(await text('down-segment-S8')), 'clear');
    await by(page, 'closing').scrollIntoViewIfNeeded();
    await shot(page, `down-list-${name}`);
    await by(page, 'up-segment-S8').click();
    assert.match(await text('confirm'), /Carts may drive there at once/);
    assert.equal(asked('/api/segments/S8/up').length, 0);
    await by(page, 'confirm-yes').click();
    await until(async () => (await by(page, 'closed-S8').count()) === 0, 'back on the floor');
    assert.match(await text('closing'), /Everything is in service/);
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });

  test(`on a ${name} a zone is stopped by one press, and released after a question`, async () => {
    page = await openBoard(browser, service.url, size, more);
    assert.equal(await page.locator('.zone.stopped').count(), 0);
    assert.match(await text('zones'), /stops every cart in it or about to enter/);
    await by(page, 'stop-zone-KILNS').click();
    await by(page, 'release-zone-KILNS').waitFor();
    assert.equal(asked('/api/zones/KILNS/stop').length, 1);
    assert.match(await text('zone-KILNS'), /Kilns\s*stopped/);
    assert.match(await by(page, 'band-KILNS').getAttribute('class'), /stopped/);
    assert.doesNotMatch(await by(page, 'band-AISLE').getAttribute('class'), /stopped/);
    await page.evaluate(() => window.scrollTo(0, 0));
    await shot(page, `zone-stopped-${name}`);
    await by(page, 'release-zone-KILNS').click();
    assert.match(await text('confirm'), /people are clear/);
    await by(page, 'confirm-no').click();
    assert.equal(asked('/api/zones/KILNS/release').length, 0);
    await by(page, 'release-zone-KILNS').click();
    await by(page, 'confirm-yes').click();
    await by(page, 'stop-zone-KILNS').waitFor();
    assert.equal(asked('/api/zones/KILNS/release').length, 1);
    assert.equal(await page.locator('.zone.stopped').count(), 0);
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });
}

test('a segment is pointed at on the floor', async () => {
  page = await openBoard(browser, service.url);
  await pointAt('S2');
  assert.match(await text('confirm'), /Take segment S2 \(P2 to P3\) out of service\?/);
  assert.equal(await by(page, 'down-which').count(), 0);
  await by(page, 'confirm-yes').click();
  await by(page, 'down-segment-S2').waitFor();
  assert.deepEqual(asked('/api/segments/S2/down')[0].body, {});
});

test('a station is planned to go out of service, the plan is changed, and dropped', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'take-out').click();
  await by(page, 'down-kind').selectOption('station');
  await by(page, 'down-which').selectOption('DRY');
  assert.match(await text('what-follows'), /Jobs for it wait/);
  await by(page, 'down-later').check();
  const [from, until1] = [inHours(2), inHours(5)];
  await by(page, 'down-from').fill(local(from));
  await by(page, 'down-until').fill(local(until1));
  await by(page, 'confirm-yes').click();
  await by(page, 'down-station-DRY').waitFor();
  const [first] = asked('/api/stations/DRY/down');
  assert.deepEqual(first.body, {
    from: new Date(`${local(from)}`).toISOString(),
    until: new Date(`${local(until1)}`).toISOString(),
  });
  assert.match(await text('down-station-DRY'), /Drying\s*planned[\s\S]*from .*, expected back /);
  assert.match(await by(page, 'closed-DRY').getAttribute('class'), /planned/);
  await by(page, 'change-station-DRY').click();
  assert.equal(await by(page, 'down-from').inputValue(), local(from), 'what was said stands there');
  assert.equal(await by(page, 'down-until').inputValue(), local(until1));
  await by(page, 'down-now').check();
  await by(page, 'down-reason').fill('racks are moved');
  await by(page, 'confirm-yes').click();
  await until(async () => /not clear: a load is still on its way/.test(await text('down-station-DRY')), 'now');
  assert.deepEqual(asked('/api/stations/DRY/down')[1].body, { reason: 'racks are moved', until: first.body.until });
  assert.doesNotMatch(await by(page, 'closed-DRY').getAttribute('class'), /planned/);
  assertQuiet(page);
});

test('a cart out of service says so in its row and by a sign on the floor', async () => {
  page = await openBoard(browser, service.url);
  await by(page, 'take-out').click();
  await by(page, 'down-kind').selectOption('cart');
  await by(page, 'down-which').selectOption('cart-2');
  assert.match(await text('what-follows'), /finishes the job it has/);
  await by(page, 'confirm-yes').click();
  await until(async () => /out of service/.test(await text('row-cart-2')), 'the row');
  assert.doesNotMatch(await text('row-cart-1'), /out of service/);
  const sign = by(page, 'cart-cart-2').locator('text.sign');
  await until(async () => (await sign.count()) === 1 && (await sign.textContent()) === '−', 'the sign');
  assert.equal(await by(page, 'cart-cart-1').locator('text.sign').count(), 0);
  await by(page, 'up-cart-cart-2').click();
  await by(page, 'confirm-yes').click();
  await until(async () => (await sign.count()) === 0, 'no sign');
  await until(async () => !/out of service/.test(await text('row-cart-2')), 'nor a word');
});

test('what is refused is said, and the list shows only what the service says', async () => {
  service.answer = (method, where) =>
    where.endsWith('/down') ? { status: 422, body: { detail: '"from" is more than 400 days ahead.' } } : undefined;
  page = await openBoard(browser, service.url);
  await pointAt('S2');
  await by(page, 'confirm-yes').click();
  await by(page, 'notice').waitFor();
  assert.match(await text('notice'), /Segment S2 \(P2 to P3\): "from" is more than 400 days ahead/);
  assert.equal(await page.locator('.downtime').count(), 0);
  service.answer = (method, where) => (where.endsWith('/zones/KILNS/stop') ? 'hang up' : undefined);
  await by(page, 'stop-zone-KILNS').click();
  await until(async () => /Kilns is not stopped.*emergency stops/s.test(await text('notice')), 'the zone');
});

test('others’ downtimes and zones come by themselves, late ones are said to be late', async () => {
  page = await openBoard(browser, service.url);
  service.change({ downtimes: [down({ station: 'GLAZE', until: new Date(Date.now() - 60_000).toISOString(), clear: true })] });
  await until(async () => /was expected back/.test(await text('down-station-GLAZE').catch(() => '')), 'late');
  service.change({ zones: [{ ...service.zones[0], stopped: true }] });
  await by(page, 'release-zone-KILNS').waitFor();
  await page.context().close();
  page = await openLive(browser, `${service.url}here/GLAZE`, phone);
  await by(page, 'here-down').waitFor();
  assert.match(await text('here-down'), /Glazing is out of service/);
});

test('a floor without zones has no such part', async () => {
  service.zones = [];
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'zones').count(), 0);
});
