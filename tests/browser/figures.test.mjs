// The page of the figures, and the waits laid over the board's floor: what is shown is what the service
// said, for the day that was chosen.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, openBoard, openLive, phone, until } from './browser.mjs';
import { someFigures } from './fake_figures.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage(() => {
  service.figures = someFigures();
});

const cells = (row) => row.locator('th, td').allInnerTexts();

for (const [name, size] of [['desk', desk], ['phone', phone]]) {
  test(`the figures of today on a ${name}: charts, and the same as tables`, async () => {
    page = await openLive(browser, `${service.url}figures`, size);
    await by(page, 'hours').waitFor();
    assert.match(await by(page, 'hours').innerText(), /41 delivered\. From asked to delivered: half within 5 min, nine of ten within 12 min/);
    assert.equal(await page.locator('.chart canvas').count(), 2);
    const rows = await by(page, 'hours').locator('tbody tr').evaluateAll((all) => all.map((tr) => [...tr.cells].map((c) => c.textContent)));
    assert.deepEqual(rows.filter((r) => /^0[678]:00$/.test(r[0])), [['06:00', '9', '8.5', '12.7'], ['07:00', '14', '11.0', '16.0'], ['08:00', '18', '13.0', '18.7']]);
    // 5000, 1600, 1200, 300, 600 of 8700 s: 57.5, 18.4, 13.8, 3.4, 6.9; the largest rests make up the 100.
    assert.deepEqual(await cells(by(page, 'time-cart-1')), ['Cart 1', '58', '18', '14', '3', '7', '0', '2.4 h']);
    assert.deepEqual(await cells(by(page, 'time-All')), ['All', '51', '14', '14', '3', '7', '11', '4.9 h']);
    assert.match(await by(page, 'due').innerText(), /^Of 9 due: 5 on time, 1 late, 1 overdue and still open, 1 to come, 1 cancelled or stranded\.$/);
    assert.match((await cells(by(page, 'late-31'))).join('|'), /still open\|25 min$/);
    assert.deepEqual(await cells(by(page, 'merge-P10')), ['P10', '12', '25 min', '125']);
    assert.equal(await by(page, 'merge-P1').count(), 0, 'nobody waited there');
    // 2400 s waited in all, 1595 of them for merges.
    assert.match(await by(page, 'merge-waits').innerText(), /Waited elsewhere, such as behind a cart at a station: 13 min/);
    assert.deepEqual(await cells(by(page, 'tag-P3')), ['P3', '80', '4', '5.0']);
    assertQuiet(page);
  });
}

test('another day is asked for whole, from midnight to midnight here, also as CSV', async () => {
  page = await newPage(browser, desk, { timezoneId: 'Asia/Kolkata' });
  const asked = [];
  page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.pathname.startsWith('/api/figures')) asked.push(url.searchParams);
  });
  await page.goto(`${service.url}figures`);
  await by(page, 'hours').waitFor();
  await by(page, 'day').fill('2026-03-05');
  await until(() => asked.length === 2, 'asked again');
  assert.deepEqual(Object.fromEntries(asked[1]), { from: '2026-03-04T18:30:00.000Z', to: '2026-03-05T18:30:00.000Z' });
  for (const table of ['hours', 'late', 'carts', 'merges', 'tags']) {
    const link = new URL(await by(page, `csv-${table}`).getAttribute('href'), service.url);
    assert.equal(link.pathname, `/api/figures/${table}.csv`);
    assert.equal(link.searchParams.get('from'), '2026-03-04T18:30:00.000Z');
  }
  await by(page, 'anew').click();
  await until(() => asked.length === 3, 'read anew');
  assert.equal(asked[2].get('from'), '2026-03-04T18:30:00.000Z');
  assertQuiet(page);
});

test('a day on which clocks change has 23 hours', async () => {
  page = await newPage(browser, desk, { timezoneId: 'Europe/Vienna' });
  await page.goto(`${service.url}figures`);
  await by(page, 'hours').waitFor();
  await by(page, 'day').fill('2026-03-29');
  const href = async () => new URL(await by(page, 'csv-hours').getAttribute('href'), service.url).searchParams;
  await until(async () => (await href()).get('from') === '2026-03-28T23:00:00.000Z', 'the day');
  assert.equal((await href()).get('to'), '2026-03-29T22:00:00.000Z');
});

test('what cannot be read is said, and what was shown stays', async () => {
  page = await openLive(browser, `${service.url}figures`);
  await by(page, 'hours').waitFor();
  service.answer = (method, path) => (path === '/api/figures' ? { status: 503, body: { detail: 'Try again in a while.' } } : undefined);
  await by(page, 'anew').click();
  await page.getByText('The figures cannot be shown: Try again in a while.').waitFor();
  assert.equal(await by(page, 'hours').count(), 1);
});

test('waits are laid over the floor by a switch, and put away', async () => {
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'waits-layer').count(), 0);
  await by(page, 'waits-switch').focus();
  await page.keyboard.press('Enter');
  await by(page, 'waits-P10').waitFor();
  assert.equal(await by(page, 'waits-switch').getAttribute('aria-pressed'), 'true');
  assert.match(await by(page, 'waits-P10').locator('text').textContent(), /^25 min$/);
  const radius = (id) => by(page, `waits-${id}`).locator('circle').evaluate((c) => c.r.baseVal.value);
  // The area is as the time.
  assert.ok(Math.abs((await radius('P3')) ** 2 / (await radius('P10')) ** 2 - 95 / 1_500) < 0.01);
  assert.equal(await by(page, 'waits-P1').count(), 0);
  await by(page, 'waits-switch').click();
  assert.equal(await by(page, 'waits-layer').count(), 0);
  assertQuiet(page);
});
