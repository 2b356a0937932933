// A builder draws and publishes while carts run, against the real service and its virtual carts.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { assertQuiet, by, launch, newPage, openBoard, shot, until } from './browser.mjs';
import { DemoService } from './demo_service.mjs';

const service = new DemoService();
let browser;

before(async () => {
  await service.start(20);
  browser = await launch();
});

after(async () => {
  await browser?.close();
  await service.stop();
});

async function openFloor() {
  const page = await newPage(browser);
  await page.goto(`${service.url}floor`);
  await by(page, 'drawn-P2').waitFor({ state: 'attached' });
  return page;
}

const driving = async () => (await service.get('/api/carts')).carts.some((cart) => cart.mode === 'driving');
const delivered = async (id) => (await service.get(`/api/jobs/${id}`)).state === 'delivered';
const run = async () => (await service.get('/api/health')).run;

/** Publishes what is on the sheet; once a run that is newer than before is up with all its carts. */
async function publish(page, before) {
  await by(page, 'confirm-yes').click();
  await until(
    async () => {
      const health = await service.allGreeted();
      return health && before(health);
    },
    'the service has begun anew and every cart has greeted',
    60_000,
  );
}

test('another name and speed: carts stop and go on by themselves, and no job is lost', { timeout: 300_000 }, async () => {
  const page = await openFloor();
  const job = await service.post('/api/jobs', { from: 'CAST', to: 'DRY' });
  await until(driving, 'a cart drives', 60_000);
  await page.locator('summary', { hasText: 'Name, and the largest cart' }).click();
  await by(page, 'floor-name').fill('Pottery works, new name');
  await by(page, 'floor-name').press('Tab');
  await until(async () => /Carts may run/.test(await by(page, 'verdict').innerText()), 'checked', 60_000);
  await by(page, 'publish').click();
  await by(page, 'changes').waitFor({ timeout: 60_000 });
  assert.match(await by(page, 'changes').innerText(), /carts then go on by themselves/);
  await publish(page, (health) => health.floor === 'Pottery works, new name');
  const { carts } = await service.get('/api/carts');
  for (const cart of carts) assert.ok(!['in_doubt', 'needs_release', 'off_floor'].includes(cart.mode), `${cart.id} ${cart.mode}`);
  await until(() => delivered(job.id), `job ${job.id} delivered`, 200_000);
  assertQuiet(page);
  await page.close();
});

test('a station goes and another comes while carts run', { timeout: 400_000 }, async () => {
  const board = await openBoard(browser, service.url);
  const page = await openFloor();
  const { point } = (await service.get('/api/floor')).stations.find((s) => s.id === 'SORT');
  await by(page, 'list-station').click();
  await by(page, 'choose-station-SORT').click();
  await by(page, 'remove-chosen').click();
  await by(page, 'list-point').click();
  await by(page, `choose-point-${point}`).click();
  await by(page, 'add-station').click();
  await by(page, 'field-id').fill('SHELF');
  await by(page, 'field-id').press('Tab');
  await by(page, 'field-name').fill('Shelf');
  await by(page, 'field-name').press('Tab');
  await by(page, 'save').click();
  await until(async () => /Version/.test(await by(page, 'draft-state').innerText()), 'saved');
  const kept = await service.get('/api/floor/draft');
  assert.equal(kept.saved_by, 'demo');
  assert.ok((await service.get('/api/floor')).stations.some((s) => s.id === 'SORT'), 'nothing has changed yet');
  for (let k = 0; k < 6; k++) await service.post('/api/jobs', { from: 'CAST', to: 'DRY' });
  // Out of service, so that the job is still there however long the check takes.
  await service.post('/api/stations/SORT/down', { reason: 'goes away' });
  const lost = await service.post('/api/jobs', { from: 'CAST', to: 'SORT' });
  await until(driving, 'a cart drives', 60_000);
  await by(page, 'publish').click();
  await by(page, 'changes').waitFor({ timeout: 60_000 });
  const told = await by(page, 'changes').innerText();
  assert.match(told, new RegExp(`Job ${lost.id} loses its station SORT`));
  assert.match(told, /until a person has placed every cart/);
  assert.equal((told.match(/a person must/g) ?? []).length, 5, told);
  assert.match(told, /station SHELF is new\./);
  await shot(page, 'publish-question');
  await until(driving, 'carts run while it is asked');
  const before = await run();
  await publish(page, (health) => health.run !== before);

  // A job whose station is gone can't be shown any more; the log says what became of it.
  assert.match(service.said, new RegExp(`Job ${lost.id} \\(CAST to SORT\\) is (cancelled|stranded): The floor was changed`));
  // The demo's stand-in sets the carts down and releases them; what a person would do.
  await until(() => /A new floor was published/.test(service.said), 'the carts are set down', 60_000);
  const job = await service.post('/api/jobs', { from: 'CAST', to: 'SHELF' });
  await until(() => delivered(job.id), `job ${job.id} delivered`, 250_000);
  await until(async () => (await board.locator('.name-station', { hasText: 'Shelf' }).count()) === 1, 'the open board draws the new floor');
  await until(async () => /the floor in use/.test(await by(page, 'draft-state').innerText()), 'so does the floor’s page');
  const { entries } = await service.get('/api/audit');
  const published = entries.filter((e) => e.what === 'publish_floor' && e.outcome === 'done');
  assert.equal(published.length, 2);
  const { editions } = await service.get('/api/floor/history');
  assert.deepEqual(editions.map((e) => e.by), ['demo', 'demo', null]);
  assertQuiet(board);
  assertQuiet(page);
  await board.close();
  await page.close();
});
