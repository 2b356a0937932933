// Commissioning on the builder's page: against the fake service, with buttons and with keys alone; and
// against the real one, with a cart of this test's driven round an invented pottery.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, phone, shot, sideways, until } from './browser.mjs';
import { FakeOffice } from './fake_office.mjs';
import { browser, service, setStage } from './stage.mjs';
import { FakeSurvey } from './fake_survey.mjs';
import { HandDrivenCart, SurveyedWorks } from './surveyed_works.mjs';

let office;
let survey;
let page;

setStage(() => {
  office = new FakeOffice().serve(service);
  survey = new FakeSurvey().serve(service);
  office.inUse = { ...office.inUse, points: [], segments: [], stations: [], chargers: [] };
});

async function open(size = desk, mode = 'off_floor') {
  page = await newPage(browser, size);
  await page.goto(`${service.url}floor`);
  await by(page, 'survey').waitFor();
  service.changeCart('cart-2', { mode, path: [] });
}
const words = (id) => by(page, id).innerText();
const begin = async () => {
  await by(page, 'survey-begin').click();
  await by(page, 'survey-running').waitFor();
};
const rows = (count) => until(async () => (await page.locator('[data-testid^="read-"]').count()) === count, `${count} rows`);
const saved = async () => {
  const { version } = office;
  await by(page, 'save').click();
  await until(() => office.version > version, 'saved');
  return office.draft;
};
const shape = (file) => file.segments.map((s) => `${s.from}-${s.to}${s.spur ? ' spur' : ''}`);

test('only a cart that is connected and off the floor is offered; a refusal is told', async () => {
  await open(desk, 'idle');
  assert.match(await words('survey-nobody'), /No cart is connected and off the floor/);
  service.changeCart('cart-2', { mode: 'off_floor' });
  await by(page, 'survey-cart').waitFor();
  assert.equal(await words('survey-cart'), 'cart-2');
  assert.match(await words('survey'), /The service moves nothing and protects nobody/);
  survey.against = 'cart-1 is on the floor and may drive: press Stop all first.';
  await by(page, 'survey-begin').click();
  await until(async () => /press Stop all first/.test(await words('survey-trouble')), 'told');
  assert.equal(await by(page, 'survey-running').count(), 0);
});

test('tags arrive in order, become a loop, are named; undo takes it all off', async () => {
  await open();
  await begin();
  assert.match(await words('survey-running'), /Listening to cart-2: no tag yet/);
  survey.read('04C1', 1);
  survey.read('04C2', 5);
  survey.read('04C3', 10);
  await rows(3);
  assert.match(await words('read-2'), /New: P2 tag 04C2/);
  assert.match(await words('distance-3'), /4\.00 m ± 1\.08 m from P2/);
  assert.match(await words('survey-accept'), /Accept 3 points and 2 segments/);
  await by(page, 'survey-accept').click();
  assert.equal(await words('survey-accept'), 'All of it is on the sheet');
  survey.read('04C1', 6);
  await rows(4);
  assert.match(await words('survey-notes'), /S3 closes the way at P1/);
  await by(page, 'survey-accept').click();
  await by(page, 'read-3').locator('[data-testid=station-P3]').click();
  assert.match(await words('chosen'), /Station STATION1/);
  await by(page, 'read-2').locator('[data-testid=siding-P2]').click();
  await by(page, 'read-2').locator('[data-testid=charger-P2]').click();
  const draft = await saved();
  assert.deepEqual(shape(draft), ['P1-P2', 'P2-P3', 'P3-P1']);
  assert.deepEqual(draft.segments.map((s) => s.length), [2_000, 4_000, 2_400]);
  assert.deepEqual(draft.points.map((p) => p.tags), [['04C1'], ['04C2'], ['04C3']]);
  assert.deepEqual(draft.stations, [{ id: 'STATION1', name: 'Station 1', point: 'P3' }]);
  assert.deepEqual([draft.points[1].siding, draft.chargers], [true, [{ id: 'C1', point: 'P2' }]]);
  for (let k = 0; k < 5; k++) await by(page, 'undo').click();
  assert.equal(await by(page, 'undo').isDisabled(), true);
  assert.deepEqual((await saved()).points, []);
  assert.match(await words('survey-accept'), /Accept 3 points and 3 segments/, 'what was read is still there');
  await by(page, 'survey-end').click();
  await until(async () => /demo has ended it/.test(await words('survey-ended')), 'ended');
  await rows(4);
  assertQuiet(page);
});

test('with the keys alone: a distance set, the others follow; a second tag; one left out; a bend', async () => {
  await open(phone);
  const press = async (id, key = 'Enter') => {
    await by(page, id).focus();
    await page.keyboard.press(key);
  };
  await press('survey-begin');
  await by(page, 'survey-running').waitFor();
  for (const [tag, seconds] of [['04C1', 1], ['04C2', 5], ['04C3', 5], ['04C4', 0.4], ['04C5', 5], ['04FF', 2]]) survey.read(tag, seconds);
  await rows(6);
  await press('change-2');
  await press('more-2');
  await press('more-2');
  assert.match(await words('distance-2'), /2\.20 m from P1, as you set it/);
  assert.match(await words('distance-3'), /2\.20 m ± 0\.31 m/, 'the others follow');
  await press('slide-2', 'ArrowRight');
  assert.match(await words('distance-2'), /2\.21 m/);
  await press('change-4');
  await press('same-4');
  await rows(5);
  assert.match(await words('read-3'), /04C3, 04C4/);
  await press('change-6');
  await press('leave-out-6');
  await rows(4);
  await press('take-back-6');
  await rows(5);
  if (!(await by(page, 'leave-out-6').isVisible())) await press('change-6');
  await press('leave-out-6');
  await press('change-3');
  await by(page, 'turn-3').focus();
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  assert.equal(await by(page, 'turn-3').inputValue(), 'left');
  await press('survey-accept');
  assert.equal(await sideways(page), 0);
  const draft = await saved();
  assert.deepEqual(shape(draft), ['P1-P2', 'P2-P3', 'P3-P4']);
  assert.deepEqual(draft.points[2].tags, ['04C3', '04C4']);
  assert.ok(draft.points[2].y > 1_000, 'it bends left');
  assert.deepEqual(draft.segments.map((s) => s.speed), [undefined, 150, 150], 'carts creep where nobody has measured');
  assertQuiet(page);
});

test('a survey that ends by itself is told, and so is a service that has begun anew', async () => {
  await open();
  await begin();
  survey.read('04C1', 1);
  await rows(1);
  survey.survey.connected = false;
  await until(async () => /cart-2 has no link/.test(await words('survey-running')), 'told');
  survey.survey = null;
  await until(async () => /started anew/.test(await words('survey-ended')), 'told');
  await rows(1);
  await begin();
  await until(async () => (await page.locator('[data-testid^="read-"]').count()) === 0, 'another survey begins empty');
});

for (const [name, size] of [['desk', desk], ['phone', phone]]) {
  test(`a cart driven round a pottery becomes a floor that can be published, on a ${name}`, { timeout: 180_000 }, async () => {
    const works = await new SurveyedWorks().start();
    try {
      page = await newPage(browser, size);
      await page.goto(`${works.url}floor`);
      await by(page, 'survey').waitFor();
      await by(page, 'files').click();
      await by(page, 'import').setInputFiles({ name: 'empty.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(works.emptyFloor)) });
      const cart = await new HandDrivenCart(works).connect();
      await by(page, 'survey-cart').waitFor({ timeout: 20_000 });
      await cart.settle();
      await begin();
      // Casting, a drying room in a dead end, kiln, glazing, packing, and back.
      const legs = [['04D10002', 2_400], ['04D10003', 3_600], ['04D10009', 2_600], ['04D10003', 2_600], ['04D10004', 2_800], ['04D10005', 4_200], ['04D10006', 3_000], ['04D10001', 3_400]];
      await cart.passes('04D10001');
      const driven = [];
      const drive = async (some) => {
        for (const [tag, mm] of some) driven.push(await cart.drives(mm, tag));
      };
      await drive(legs.slice(0, 2));
      await until(async () => (await page.locator('[data-testid^="read-"]').count()) === 3, 'live');
      await drive(legs.slice(2));
      await rows(9);
      await by(page, 'survey-accept').click();
      for (const [row, point] of [[1, 'P1'], [4, 'P4'], [7, 'P6']]) await by(page, `read-${row}`).locator(`[data-testid=station-${point}]`).click();
      await by(page, 'read-6').locator('[data-testid=siding-P5]').click();
      await shot(page, `survey-${name}`);
      await by(page, 'survey-end').click();
      await by(page, 'save').click();
      // The button is off while it saves, too.
      await until(async () => /^Version \d+, saved by/.test(await words('draft-state')) && !/not saved/.test(await words('draft-state')), 'saved');
      const { floor } = await works.get('/api/floor/draft');
      assert.deepEqual(shape(floor), ['P1-P2', 'P2-P3', 'P3-P4 spur', 'P3-P5', 'P5-P6', 'P6-P7', 'P7-P1']);
      // The dead end was driven in and out.
      const legsOf = [[0], [1], [2, 3], [4], [5], [6], [7]].map((some) => some.map((leg) => driven[leg]));
      floor.segments.forEach((s, k) => {
        assert.ok(legsOf[k].some((mm) => Math.abs(s.length - mm) <= 0.25 * mm + 80), `${s.id}: ${s.length}, driven ${legsOf[k]}`);
      });
      assert.deepEqual(floor.points.map((p) => p.tags), [['04D10001'], ['04D10002'], ['04D10003'], ['04D10009'], ['04D10004'], ['04D10005'], ['04D10006']]);
      await until(async () => (await by(page, 'findings').getAttribute('data-state')) === 'checked', 'checked', 60_000);
      console.log(`${await words('verdict')}\n${await page.locator('.finding.forbids').allInnerTexts()}`);
      assert.match(await words('verdict'), /Carts may run on it/);
      assert.deepEqual(cart.heard.filter((type) => !['welcome', 'reset', 'ack'].includes(type)), [], 'the service has moved nothing');
      assertQuiet(page);
      cart.leave();
    } finally {
      await works.stop();
    }
  });
}
