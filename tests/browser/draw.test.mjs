// The page on which a builder draws the floor, against the fake service: with a mouse and with keys
// alone, undo, findings, two people, publishing, files, the picture.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, phone, shot, sideways, until } from './browser.mjs';
import { FakeDoor } from './fake_door.mjs';
import { FakeOffice, finding, floorFile } from './fake_office.mjs';
import { browser, service, setStage } from './stage.mjs';

let office;
let page;

setStage(() => {
  office = new FakeOffice().serve(service);
});

async function open(size = desk) {
  page = await newPage(browser, size);
  await page.goto(`${service.url}floor`);
  await by(page, 'drawn-P3').waitFor({ state: 'attached' });
}

const centre = async (id) => {
  const box = await by(page, id).boundingBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
};
const saved = async () => {
  const { version } = office;
  await by(page, 'save').click();
  await until(() => office.version > version, 'saved');
  return office.draft;
};
const point = (file, id) => file.points.find((p) => p.id === id);
const choose = async (kind, id) => {
  const list = by(page, `list-${kind}`);
  if (!(await by(page, `choose-${kind}-${id}`).isVisible())) await list.click();
  await by(page, `choose-${kind}-${id}`).click();
};
const type = async (field, text) => {
  await by(page, field).fill(text);
  await by(page, field).press('Tab');
};

test('a floor that cannot be had at first is asked for again', async () => {
  const { answer } = service;
  let refusals = 2;
  service.answer = (method, where, ...more) => {
    if (where !== '/api/floor/draft' || refusals-- <= 0) return answer(method, where, ...more);
    return { status: 503, body: { detail: 'The draft is being written.' } };
  };
  page = await newPage(browser);
  await page.goto(`${service.url}floor`);
  await until(async () => /being written/.test(await by(page, 'draw-trouble').innerText()), 'why not');
  await by(page, 'drawn-P3').waitFor({ state: 'attached', timeout: 20_000 });
  assert.equal(await by(page, 'draw-trouble').count(), 0);
  assertQuiet(page);
});

test('tape is laid with the mouse, bent, rounded and saved; what the page does not know stays', async () => {
  await open();
  await by(page, 'tool-segment').check();
  const [x, y] = await centre('drawn-P14');
  await page.mouse.click(x, y);
  await page.mouse.click(x, y + 90);
  await by(page, 'tool-bend').check();
  await page.mouse.click(x, y + 45);
  await by(page, 'tool-move').check();
  await page.keyboard.press('Escape');
  assert.equal(await by(page, 'round').count(), 1, 'the segment has one corner and is chosen');
  const [vx, vy] = await centre('via-0');
  await page.mouse.move(vx, vy);
  await page.mouse.down();
  await page.mouse.move(vx + 40, vy, { steps: 4 });
  await page.mouse.up();
  await by(page, 'round').click();
  const draft = await saved();
  const made = draft.segments.at(-1);
  assert.equal(made.id, 'S19');
  assert.equal(made.from, 'P14');
  assert.equal(made.to, 'P17');
  assert.equal(made.via.length, 7);
  assert.equal(point(draft, 'P17').x, point(draft, 'P14').x, 'in line with the point above');
  assert.ok(made.via[3][0] > point(draft, 'P14').x + 100, 'the curve goes where the corner was pulled');
  assert.equal(draft.made_by, 'somebody who knows more');
  assertQuiet(page);
});

test('a point is pulled; one undo brings it all the way back, and redo forth', async () => {
  await open();
  const [x, y] = await centre('drawn-P14');
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + 30, y + 20, { steps: 6 });
  await page.mouse.move(x + 61, y + 47, { steps: 6 });
  await page.mouse.up();
  const field = async () => [Number(await by(page, 'field-x').inputValue()), Number(await by(page, 'field-y').inputValue())];
  const moved = await field();
  assert.ok(moved[0] > 17_000 && moved[1] < 5_000, String(moved));
  assert.deepEqual(moved.map((mm) => mm % 50), [0, 0], 'on the grid');
  await page.keyboard.press('Control+z');
  await until(async () => String(await field()) === '17000,5000', 'undone');
  await page.keyboard.press('Control+y');
  await until(async () => String(await field()) === String(moved), 'redone');
  assert.deepEqual(point(await saved(), 'P14').x, moved[0]);
});

test('with the keys alone: a point added, named, tagged, moved, a station on it, tape to it', async () => {
  await open();
  const press = async (id) => {
    await by(page, id).focus();
    await page.keyboard.press('Enter');
  };
  await press('list-point');
  await press('choose-point-P14');
  await press('add-point');
  await type('field-id', 'DOCK');
  await type('field-tags', '04b7 04B8');
  await by(page, 'sheet').focus();
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('Shift+ArrowUp');
  await press('add-station');
  await type('field-name', 'Loading dock');
  await type('field-capacity', '2');
  await press('choose-point-P14');
  await press('lay-from');
  await press('choose-point-DOCK');
  await press('lay-to');
  const draft = await saved();
  assert.deepEqual(point(draft, 'DOCK'), { id: 'DOCK', x: 17_550, y: 5_500, tags: ['04B7', '04B8'] });
  assert.deepEqual(draft.stations.at(-1), { id: 'STATION1', name: 'Loading dock', point: 'DOCK', capacity: 2 });
  assert.deepEqual(draft.segments.at(-1), { id: 'S19', from: 'P14', to: 'DOCK' });
  assertQuiet(page);
});

test('a wrong id is refused where it is typed', async () => {
  await open();
  await choose('point', 'P14');
  await type('field-id', 'P3');
  assert.equal(await by(page, 'field-id').evaluate((input) => input.validationMessage), 'There is a point P3 already.');
  assert.equal(await by(page, 'undo').isDisabled(), true);
});

test('what is half typed stays when the page is drawn anew', async () => {
  await open();
  await choose('point', 'P14');
  await by(page, 'field-x').fill('17321');
  await by(page, 'field-tags').fill('04FE');
  await by(page, 'field-id').fill('HALF');
  service.changeCart('cart-1', { battery: 20 });
  service.tell({ type: 'time', time: new Date().toISOString() });
  await new Promise((done) => setTimeout(done, 400));
  assert.equal(await by(page, 'field-id').inputValue(), 'HALF');
  assert.equal(await by(page, 'field-tags').inputValue(), '04FE');
  await by(page, 'field-id').press('Tab');
  const draft = await saved();
  assert.deepEqual(point(draft, 'HALF'), { id: 'HALF', x: 17_321, y: 5_000, tags: ['04FE'] });
});

test('findings follow the drawing, and pressing one shows its place', async () => {
  await open();
  await until(async () => /Carts may run/.test(await by(page, 'verdict').innerText()), 'checked');
  const before = office.checked;
  office.findings = [finding({ severity: 'forbids', place: 'point P14', at: [17_000, 5_000], figure: 'No tag.' })];
  await choose('point', 'P14');
  await type('field-tags', '');
  await until(async () => /one thing must be put right/.test(await by(page, 'verdict').innerText()), 'checked anew');
  assert.ok(office.checked > before);
  assert.equal(await by(page, 'shown-place').count(), 0);
  await by(page, 'finding-0').click();
  const [x, y] = await centre('shown-place');
  const [px, py] = await centre('drawn-P14');
  assert.ok(Math.hypot(x - px, y - py) < 2, 'round the point');
  office.wrong = [{ pointer: '/segments/3/to', wrong: 'no point "P99"', right: 'name one of the points' }];
  await type('field-tags', '04FF');
  await by(page, 'wrong-0').click();
  assert.match(await by(page, 'chosen').innerText(), /Segment S4/);
});

test('two people: the later one is told, sees the other’s draft, and loses nothing', async () => {
  await open();
  await choose('point', 'P14');
  await type('field-x', '18000');
  const theirs = { ...floorFile(), name: 'Their works' };
  office.save(theirs, 'Sam');
  await by(page, 'save').click();
  await until(async () => /Sam saved version 1/.test(await page.locator('.notice').innerText().catch(() => '')), 'told');
  assert.equal(office.draft, theirs);
  await by(page, 'files').click();
  await by(page, 'take-draft').click();
  await until(async () => /saved by Sam/.test(await by(page, 'draft-state').innerText()), 'theirs');
  assert.equal(await by(page, 'field-x').inputValue(), '17000');
  await by(page, 'undo').click();
  assert.equal(await by(page, 'field-x').inputValue(), '18000');
  assert.equal(point(await saved(), 'P14').x, 18_000);
});

test('publishing saves first, says what will follow, and is done only when a person says so', async () => {
  await open();
  await choose('point', 'P3');
  await type('field-x', '8100');
  await by(page, 'publish').click();
  const told = await by(page, 'changes').innerText();
  for (const words of [/cart-1 was last seen at P15/, /Job 4 loses its station/, /point P3 is altered/, /placed every cart/]) assert.match(told, words);
  assert.equal(office.version, 1, 'saved');
  await by(page, 'confirm-no').click();
  assert.equal(office.published.length, 0);
  await by(page, 'publish').click();
  await by(page, 'confirm-yes').click();
  await until(() => office.published.length === 1, 'published');
  assert.equal(point(office.published[0], 'P3').x, 8_100);
  office.against = ['point P3: it has no tag.'];
  service.run = 'run2';
  service.dropLinks();
  await until(async () => /the floor in use/.test(await by(page, 'draft-state').innerText()), 'the new floor');
  await choose('point', 'P3');
  await type('field-x', '8200');
  await by(page, 'publish').click();
  assert.match(await by(page, 'changes').innerText(), /it has no tag/);
  assert.equal(await by(page, 'confirm-yes').isDisabled(), true);
});

test('a check that is under way does not keep anybody from publishing', async () => {
  await open();
  let refusals = 2;
  const before = service.answer;
  service.answer = (method, path, body, headers) => {
    if (path !== '/api/floor/draft/changes' || refusals-- <= 0) return before(method, path, body, headers);
    return { status: 429, body: { detail: 'One at a time.' } };
  };
  await by(page, 'publish').click();
  await by(page, 'changes').waitFor();
  assert.ok(refusals < 0, 'it was refused twice before');
});

test('floor files go in and out unchanged; what is none is refused', async () => {
  await open();
  const demo = readFileSync(new URL('../../deploy/demo.floor.json', import.meta.url), 'utf8');
  await by(page, 'files').click();
  const put = (name, text) => by(page, 'import').setInputFiles({ name, mimeType: 'application/json', buffer: Buffer.from(text) });
  await put('demo.json', demo);
  await by(page, 'drawn-B1').waitFor({ state: 'attached' });
  const [download] = await Promise.all([page.waitForEvent('download'), by(page, 'export').click()]);
  assert.match(download.suggestedFilename(), /^pottery-works-ground-floor\.floor\.json$/);
  assert.deepEqual(JSON.parse(readFileSync(await download.path(), 'utf8')), JSON.parse(demo));
  await put('bad.json', '{"format":');
  await until(async () => /not JSON/.test(await page.locator('.notice').innerText()), 'refused');
  await by(page, 'drawn-B1').waitFor({ state: 'attached' });
});

test('a picture lies under the drawing, gets its scale by two places, and stays in this browser', async () => {
  await open();
  await by(page, 'picture').locator('summary').click();
  const icon = readFileSync(new URL('../../web/pictures/board-1440.png', import.meta.url));
  await by(page, 'picture-file').setInputFiles({ name: 'plan.png', mimeType: 'image/png', buffer: icon });
  await by(page, 'plan-picture').waitFor();
  assert.match(await by(page, 'picture-size').innerText(), /10.00 m across/);
  await by(page, 'tool-scale').check();
  const box = await by(page, 'plan-picture').boundingBox();
  await page.mouse.click(box.x + box.width * 0.25, box.y + box.height / 2);
  await page.mouse.click(box.x + box.width * 0.75, box.y + box.height / 2);
  await by(page, 'scale-length').fill('10');
  await by(page, 'scale-set').click();
  await until(async () => /20.0\d m across|19.9\d m across/.test(await by(page, 'picture-size').innerText()), 'twice as large');
  await page.reload();
  await by(page, 'plan-picture').waitFor();
  assert.match(await by(page, 'picture-size').textContent(), /m across/);
  assert.ok(!service.requests.some((r) => JSON.stringify(r.body ?? '').length > 20_000), 'nothing of it was sent');
  assertQuiet(page);
});

test('on a phone it can be looked at and changed a little', async () => {
  await open(phone);
  assert.equal(await sideways(page), 0);
  await choose('point', 'P14');
  await type('field-x', '17100');
  assert.equal(point(await saved(), 'P14').x, 17_100);
  await shot(page, 'draw-phone');
});

test('who is no builder is told that, and asks the service for nothing', async () => {
  service.door = new FakeDoor(['Olu', 'operator', 'slip']);
  service.door.demo = 'operator';
  page = await newPage(browser);
  await page.goto(`${service.url}floor`);
  await by(page, 'not-yours').waitFor();
  assert.equal(await by(page, 'sheet').count(), 0);
  assert.ok(!service.requests.some((r) => r.path.startsWith('/api/floor/')), 'nothing of a draft was asked');
});
