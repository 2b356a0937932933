// What holds for every page, at both sizes, in light and dark: axe-core finds nothing (WCAG 2.2 A and
// AA and its own good practice), nothing scrolls sideways, the console stays silent, and the first
// load weighs at most 150 KB.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, phone, shot, sideways } from './browser.mjs';
import { FakeDoor } from './fake_door.mjs';
import { someFigures } from './fake_figures.mjs';
import { job, link } from './fake_floor.mjs';
import { serveFleet } from './fake_fleet.mjs';
import { FakeOffice } from './fake_office.mjs';
import { FakePast } from './fake_past.mjs';
import { now } from './fake_service.mjs';
import { browser, service, setStage } from './stage.mjs';
import { FakeSurvey } from './fake_survey.mjs';
import { axeSource } from './modules.mjs';

/** Bytes on the wire: page, script, style, icon, and what the page asks the service first. */
const mostBytes = 150_000;

let page;

setStage();

const people = [['Bea', 'builder', 'clay'], ['Olu', 'operator', 'slip']];

/** As much as can be seen at once: alarms, reasons, closed track, a stopped zone, jobs of all kinds. */
function busy() {
  const why = [link('turn', 'cart-1 waits at P15 for P10, where cart-2 passes first.', { since: now() }), link('needs_release', 'cart-2 stands at P9 until a person releases it.')];
  service.allStopped = true;
  service.zones = [{ id: 'KILNS', name: 'Kilns', segments: ['S15'], stopped: true }, { id: 'AISLE', name: 'Aisle', segments: ['S13'], stopped: false }];
  service.downtimes = [
    { segment: 'S2', reason: 'new tape', from: now(), until: now(), begun: true, clear: false },
    { station: 'DRY', reason: '', from: new Date(Date.now() + 9e6).toISOString(), until: null, begun: false, clear: false },
  ];
  service.alarms = [{ id: 1, kind: 'needs_release', cart: 'cart-2', job: null, point: null, text: 'Cart 2 needs a release.', since: now(), seen: null }, { id: 2, kind: 'missed_tag', cart: null, job: null, point: 'P3', text: 'The tag of P3 was missed.', since: now(), seen: { by: 'Olu', at: now() } }];
  service.changeCart('cart-1', { mode: 'waiting', why, battery: 15 });
  service.changeCart('cart-2', { mode: 'needs_release', connected: false, loaded: true, fault: 'blocked' });
  for (const [id, state] of [[1, 'queued'], [2, 'loaded'], [3, 'delivered'], [4, 'stranded']]) {
    const ended = state === 'delivered' || state === 'stranded';
    service.jobs.set(id, job(id, { from: 'GLAZE', to: 'PACK', state, cart: id === 1 ? null : 'cart-1', why: id === 1 ? why : [], due: now(), note: 'bowls', ended_at: ended ? now() : null, reason: state === 'stranded' ? 'Its cart was removed.' : '' }));
  }
}

/** Name, path, what shows that it is there, and what has to be so before. */
const pages = [
  { name: 'board', path: '', ready: 'floor', first: busy },
  { name: 'board, a question', path: '', ready: 'floor', then: () => by(page, 'take-out').click() },
  { name: 'here', path: 'here/GLAZE', ready: 'mine', first: busy },
  { name: 'here, no station', path: 'here', ready: 'where' },
  { name: 'here, second tap', path: 'here/GLAZE', ready: 'mine', then: () => by(page, 'send').click() },
  { name: 'wall', path: 'wall', ready: 'figures', first: busy },
  { name: 'figures', path: 'figures', ready: 'hours', first: () => (service.figures = someFigures()) },
  { name: 'figures, empty', path: 'figures', ready: 'hours' },
  {
    name: 'board, waits', path: '#waits', ready: 'floor', first: () => (service.figures = someFigures()),
    then: () => by(page, 'waits-P10').waitFor(),
  },
  { name: 'codes', path: 'codes', ready: 'address', then: () => by(page, 'address').fill('http://192.0.2.10') },
  { name: 'past', path: 'past', ready: 'row-cart-1', first: () => (service.answer = new FakePast().answer) },
  { name: 'board, why it stands', path: '', ready: 'floor', first: busy, then: () => by(page, 'ask-cart-1').click() },
  { name: 'sign-in', path: 'sign-in', ready: 'sign-in', first: () => (service.door = new FakeDoor(...people)) },
  { name: 'setup', path: 'setup', ready: 'set-up', first: () => (service.door = new FakeDoor()) },
  { name: 'floor', path: 'floor', ready: 'sheet', first: () => new FakeOffice().serve(service), then: () => chooseOnFloor() },
  {
    name: 'floor, publishing', path: 'floor', ready: 'sheet', first: () => new FakeOffice().serve(service),
    then: async () => {
      await by(page, 'publish').click();
      await by(page, 'changes').waitFor();
    },
  },
  { name: 'floor, a survey', path: 'floor', ready: 'survey-reads', first: surveyed, then: () => openAll() },
  {
    name: 'floor, a try-out', path: 'floor', ready: 'sheet', first: () => new FakeOffice().serve(service),
    then: async () => {
      await by(page, 'try-all').click();
      await by(page, 'tried-A-3').waitFor();
      await by(page, 'watch-slider').fill('30000');
    },
  },
  {
    name: 'carts', path: 'carts', ready: 'fleet',
    first: () => {
      service.door = new FakeDoor(...people);
      service.door.demo = 'builder';
      serveFleet(service);
    },
    then: async () => {
      await by(page, 'add-cart').click();
      await by(page, 'shown-key').waitFor();
      await openAll();
    },
  },
  {
    name: 'carts, a question', path: 'carts', ready: 'fleet', first: () => serveFleet(service),
    then: () => by(page, 'revoke-cart-1').click(),
  },
  {
    name: 'people', path: 'people', ready: 'audit',
    first: () => {
      service.door = new FakeDoor(...people);
      service.door.demo = 'builder';
      service.door.note('Olu', 'cancel_job', 'jobs/3');
      service.door.tokens = [{ id: 't1', name: 'Button', scope: 'call', from: 'GLAZE', to: 'PACK', created: now(), expires: now(), last_used: null }];
    },
    then: async () => {
      await openAll();
    },
  },
];

/** Known and unknown tags, a guess, one left without a time, a point that is a station. */
function surveyed() {
  const office = new FakeOffice().serve(service);
  const survey = new FakeSurvey().serve(service);
  survey.answer('POST', '/api/floor/survey', { cart: 'cart-2' }, new URL(service.url));
  const [p1, p2, p3] = office.inUse.points.map((point) => point.tags[0]);
  survey.read(p1, 1);
  survey.read(p2, 6);
  survey.read(p3, 6);
  survey.read('04C1', 5);
  survey.read('04C2', 90);
  survey.read('04C3', 5, { late: true });
}

/** Opens what can be unfolded, also what only appears meanwhile (a list of places would shift). */
async function openAll() {
  const closed = page.locator('main details:not([open]) > summary');
  while (await closed.count()) await closed.first().click();
}

/** Lists and details open, a segment chosen, findings there. */
async function chooseOnFloor() {
  await openAll();
  await by(page, 'choose-segment-S4').click();
  await by(page, 'finding-0').click();
}

async function open({ path, ready, first, then }, size, scheme) {
  first?.();
  page = await newPage(browser, size, { colorScheme: scheme });
  const loaded = [];
  page.on('requestfinished', (request) => loaded.push(request));
  await page.goto(service.url + path);
  await by(page, ready).waitFor();
  await page.waitForLoadState('networkidle');
  const sizes = await Promise.all(loaded.map(async (r) => [new URL(r.url()).pathname, (await r.sizes()).responseBodySize]));
  await then?.();
  return sizes;
}

const everything = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

async function violations(rules = everything, least = 11) {
  await page.evaluate(axeSource);
  const { violations: found, passes } = await page.evaluate((runOnly) => window.axe.run(document, { runOnly }), rules);
  assert.ok(passes.length >= least, `only ${passes.length} of axe's rules found something to look at`);
  return found.map((v) => `${v.id}: ${v.help}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(' | ')}`);
}

for (const [name, size, scheme] of [['phone', phone, 'dark'], ['desk', desk, 'light']]) {
  for (const one of pages) {
    test(`${one.name} on a ${name}: axe finds nothing, it is light, and fits`, async () => {
      const sizes = await open(one, size, scheme);
      const bytes = sizes.reduce((sum, [, n]) => sum + n, 0);
      assert.ok(sizes.length >= 3, `only ${sizes.length} files were counted`);
      assert.ok(bytes <= mostBytes, `${bytes} bytes: ${sizes.map(([path, n]) => `${path} ${n}`).join(', ')}`);
      console.log(`${one.name}, ${name}: ${(bytes / 1_000).toFixed(1)} KB`);
      assert.deepEqual(await violations(), []);
      assert.equal(await sideways(page), 0);
      await shot(page, `every-${one.name.replace(/\W+/g, '-')}-${name}`);
      // The other scheme has other colours, and nothing else.
      await page.emulateMedia({ colorScheme: scheme === 'dark' ? 'light' : 'dark' });
      assert.deepEqual(await violations(['color-contrast'], 1), [], 'in the other scheme');
      assertQuiet(page);
    });
  }
}
