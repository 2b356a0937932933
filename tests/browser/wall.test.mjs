// The wall view: whether the floor runs, in large words; figures from the service's list and from what
// the live link tells after it; nothing to press.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, drawnAt, newPage, openLive, phone, shot, sideways, until } from './browser.mjs';
import { job } from './fake_floor.mjs';
import { now } from './fake_service.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage();

const text = (id) => by(page, id).innerText();
const ago = (minutes) => new Date(Date.now() - minutes * 60_000).toISOString();
const delivered = (id, asked, ended, more = {}) =>
  job(id, { state: 'delivered', created: ago(asked), ended_at: ago(ended), ...more });

for (const [name, size] of [['phone', phone], ['desk', desk]]) {
  test(`on a ${name}: figures of the last hour, kept up by the live link`, async () => {
    service.past = [delivered(1, 20, 10), delivered(2, 75, 65), delivered(3, 30, 26, { due: ago(28) })];
    service.jobs.set(4, job(4, { due: ago(1) }));
    page = await openLive(browser, `${service.url}wall`, size);
    await by(page, 'figures').waitFor();
    assert.equal(await text('figure-delivered'), '2');
    assert.equal(await text('figure-lead'), '10 min');
    assert.equal(await text('figure-delivered-late'), '1');
    assert.equal(await text('figure-open'), '1');
    assert.equal(await text('figure-open-late'), '1');
    assert.match(await text('figures'), /in the last hour/);
    service.change({ jobs: [{ ...service.jobs.get(4), state: 'delivered', ended_at: now() }] });
    await until(async () => (await text('figure-delivered')) === '3', 'one more');
    assert.equal(await text('figure-delivered-late'), '2');
    assert.equal(await text('figure-open'), '0');
    assert.equal(await page.locator('button, a, select, input').count(), 0, 'nothing to press');
    assert.equal((await drawnAt(page, 'cart-1')).length, 2);
    assert.equal(await sideways(page), 0);
    await shot(page, `wall-${name}`);
    assertQuiet(page);
  });
}

test('it says in large words whether the floor runs', async () => {
  page = await openLive(browser, `${service.url}wall`);
  const state = (words) => until(async () => (await text('wall-state')).includes(words), words);
  await state('The floor runs');
  const alarms = Array.from({ length: 6 }, (_, i) => ({ id: i, kind: 'missed_tag', cart: null, job: null, point: 'P3', text: `Tag ${i} was missed.`, since: now() }));
  service.change({ alarms });
  await state('6 alarms');
  assert.match(await text('wall-alarms'), /Tag 0 was missed[\s\S]*and 2 more/);
  service.changeCart('cart-1', { mode: 'in_doubt' });
  await state('1 cart needs a person');
  service.change({ zones: [{ id: 'K', name: 'Kilns', segments: ['S15'], stopped: true }] });
  await state('Stopped: Kilns');
  service.change({ all_stopped: true });
  await state('All carts are stopped');
  service.refuseLinks = true;
  service.dropLinks();
  await by(page, 'stale').waitFor();
  assertQuiet(page);
});

test('without a link it does not say that the floor runs, neither before the first picture nor after the last', async () => {
  service.refuseLinks = true;
  page = await newPage(browser);
  await page.goto(`${service.url}wall`);
  const isUnknown = async () => {
    assert.match(await text('wall-state'), /^\? (Connecting|No link: not known since \d\d:\d\d)$/);
    const [edge, good] = await by(page, 'wall-state').evaluate((line) => {
      const probe = line.appendChild(document.createElement('i'));
      probe.style.color = 'var(--good)';
      const colours = [getComputedStyle(line).borderTopColor, getComputedStyle(probe).color];
      probe.remove();
      return colours;
    });
    assert.notEqual(edge, good, 'not green');
  };
  await by(page, 'wall-state').waitFor();
  await isUnknown();
  service.refuseLinks = false;
  const runs = () => until(async () => (await text('wall-state')) === '✓ The floor runs', 'it runs', 30_000);
  await runs();
  service.refuseLinks = true;
  service.dropLinks();
  await until(async () => /not known since/.test(await text('wall-state')), 'not known');
  await isUnknown();
  await shot(page, 'wall-no-link');
  service.refuseLinks = false;
  await runs();
  assertQuiet(page);
});

test('where the list does not reach back an hour, it says since when', async () => {
  service.past = Array.from({ length: 200 }, (_, i) => delivered(1_000 - i, 12 + i / 20, 10 + i / 20));
  page = await openLive(browser, `${service.url}wall`);
  await by(page, 'figures').waitFor();
  assert.match(await text('figures'), /delivered since \d\d:\d\d/);
  assert.equal(await text('figure-delivered'), '199', 'the last of the list marks from when on all is known');
});
