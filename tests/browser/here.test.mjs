// The operator's page against the fake service: where I am, send and fetch in two taps, what becomes
// of it, being offline, and that no wish is made twice.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, openLive, phone, shot, sideways, until } from './browser.mjs';
import { job, link, pathPoint } from './fake_floor.mjs';
import { now } from './fake_service.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage();

const thumb = { hasTouch: true, isMobile: true };
const open = (path = 'here/GLAZE', size = phone) =>
  openLive(browser, service.url + path, size, size === phone ? thumb : {});
const posts = () => service.requests.filter((r) => r.method === 'POST' && r.path === '/api/jobs');
const text = (id) => by(page, id).innerText();
const ago = (ms) => new Date(Date.now() - ms).toISOString();

for (const [name, size] of [['phone', phone], ['desk', desk]]) {
  test(`on a ${name} a load is sent, and one fetched, in two presses each`, async () => {
    page = await open('here/GLAZE', size);
    assert.equal(await by(page, 'where').inputValue(), 'GLAZE');
    await by(page, 'send').click();
    assert.match(await text('choice'), /From Glazing to/);
    await shot(page, `here-choice-${name}`);
    await by(page, 'choose-PACK').click();
    await by(page, 'card-17').waitFor();
    await by(page, 'fetch').click();
    assert.match(await text('choice'), /To Glazing from/);
    await by(page, 'choose-CAST').click();
    await by(page, 'card-18').waitFor();
    assert.deepEqual(posts().map((r) => r.body), [{ from: 'GLAZE', to: 'PACK' }, { from: 'CAST', to: 'GLAZE' }]);
    assert.equal(new Set(posts().map((r) => r.key)).size, 2);
    assert.match(await text('card-17'), /To Packing job 17\s+Waits for a cart/);
    assert.match(await text('card-18'), /From Casting/);
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });

  test(`on a ${name} it says what becomes of my job, and no time that the service does not say`, async () => {
    page = await open('here/GLAZE', size);
    await by(page, 'send').click();
    await by(page, 'choose-PACK').click();
    await by(page, 'card-17').waitFor();
    const state = async (words) => until(async () => words.test(await text('card-state-17')), String(words));
    const made = service.jobs.get(17);
    service.change({ jobs: [{ ...made, why: [link('no_cart_free', 'Job 17 waits: every cart is busy; cart-2 is expected to be free first.', { until: ago(-235_000) })] }] });
    await until(async () => /free first, in about 3 min\./.test(await text('card-why-17')), 'the forecast');
    const assigned = { ...made, state: 'assigned', cart: 'cart-2' };
    service.change({ jobs: [assigned] });
    service.changeCart('cart-2', { job: 17, mode: 'driving' });
    await state(/^Cart 2 is on its way to Glazing$/);
    service.changeCart('cart-2', { mode: 'waiting', why: [
      link('turn', 'cart-2 waits at P8 for P9, where cart-1 passes first.', { since: ago(65_000) }),
      link('handling', 'cart-1 is being loaded at Glazing.', { since: ago(5_000) }),
    ] });
    await state(/^Cart 2 waits on its way to Glazing$/);
    await until(async () => (await text('spoken')) === 'Job 17: Cart 2 waits on its way to Glazing.', 'spoken');
    assert.match(await text('card-why-17'), /cart-1 passes first, for 1 min\./);
    await shot(page, `here-waits-${name}`);
    service.changeCart('cart-2', { mode: 'handling', why: [], path: [pathPoint(1, 'P9', 'S8', { act: 'load' })] });
    await state(/^Cart 2 is loading at Glazing$/);
    service.change({ jobs: [{ ...assigned, state: 'loaded', stops_done: 1 }] });
    service.changeCart('cart-2', { mode: 'driving' });
    await state(/^Cart 2 is on its way to Packing$/);
    assert.equal(await by(page, 'cancel-17').count(), 0);
    service.change({ jobs: [{ ...assigned, state: 'delivered', stops_done: 2, created: made.created, ended_at: now() }] });
    await state(/^Delivered \d+ s ago, took \d+ s$/);
    assert.equal(await by(page, 'ended').locator('.card').count(), 1);
    assert.match(await text('mine'), /Nothing is on its way for you/);
    assertQuiet(page);
  });
}

test('whoever stands beside the cart says that the load is on, and only there', async () => {
  service.change({ jobs: [job(21, { from: 'GLAZE', to: 'PACK', state: 'assigned', cart: 'cart-2' })] });
  service.changeCart('cart-2', { job: 21, mode: 'driving' });
  page = await open('here/PACK');
  await by(page, 'card-21').waitFor();
  service.changeCart('cart-2', { mode: 'handling', path: [pathPoint(1, 'P9', 'S8', { act: 'load' })] });
  await until(async () => /is loading at Glazing/.test(await text('card-state-21')), 'it is loading');
  assert.equal(await by(page, 'handled-21').count(), 0, 'not at the other end');
  await by(page, 'where').selectOption('GLAZE');
  await by(page, 'handled-21').waitFor();
  assert.match(await text('card-21'), /Step clear first: Cart 2 drives off/);
  await shot(page, 'here-handled');
  await by(page, 'handled-21').click();
  await until(() => service.requests.some((r) => r.path === '/api/jobs/21/handled' && r.body.what === 'load'), 'told');
  await until(async () => /Cart 2 is told that the load is on/.test(await text('notice')), 'said');
  service.changeCart('cart-2', { connected: false });
  await until(() => by(page, 'handled-21').isDisabled(), 'can not be told');
  service.change({ jobs: [job(21, { from: 'GLAZE', to: 'PACK', state: 'loaded', stops_done: 1, cart: 'cart-2' })] });
  service.changeCart('cart-2', { mode: 'driving', connected: true });
  await until(async () => (await by(page, 'handled-21').count()) === 0, 'gone');
  assert.equal(await sideways(page), 0);
  assertQuiet(page);
});

test('a scanned code says where I am, and the phone remembers it', async () => {
  page = await open('here/PACK');
  assert.equal(await by(page, 'where').inputValue(), 'PACK');
  await page.goto(`${service.url}here`);
  await until(async () => (await by(page, 'where').inputValue()) === 'PACK', 'remembered');
  assert.equal(new URL(page.url()).pathname, '/here/PACK');
  await by(page, 'where').selectOption('DRY');
  await until(() => new URL(page.url()).pathname === '/here/DRY', 'the address follows');
  await page.reload();
  await until(async () => (await by(page, 'where').inputValue()) === 'DRY', 'still there');
  await until(async () => /^Drying, /.test(await page.title()), 'the title');
});

test('whoever was nowhere yet is asked, and can send nothing before', async () => {
  page = await open('here');
  await by(page, 'where').waitFor();
  assert.equal(await by(page, 'where').inputValue(), '');
  assert.equal(await by(page, 'send').count(), 0);
  await by(page, 'where').selectOption('CAST');
  await by(page, 'send').waitFor();
});

test('a code of a station that is gone is told plainly', async () => {
  page = await open('here/OVEN%201');
  await by(page, 'no-such-station').waitFor();
  assert.match(await text('no-such-station'), /no station “OVEN 1”/);
  assert.equal(await by(page, 'send').count(), 0);
});

test('the stations used last come first, and there is no way to the same place', async () => {
  service.floor = { ...service.floor, stations: [...service.floor.stations, { id: 'GLAZE2', name: 'Glazing, left', point: 'P9', capacity: null, loads: null }] };
  page = await open();
  await by(page, 'send').click();
  const names = () => by(page, 'choice').locator('li').allInnerTexts();
  assert.deepEqual(await names(), ['Casting', 'Drying', 'Kiln room', 'Packing']);
  await by(page, 'choose-KILN').click();
  await by(page, 'send').click();
  assert.deepEqual(await names(), ['Kiln room', 'Casting', 'Drying', 'Packing']);
  await by(page, 'choice-no').click();
  assert.equal(await by(page, 'choice').count(), 0);
  assert.equal(posts().length, 1);
});

test('a job is cancelled until its load is on', async () => {
  service.jobs.set(3, job(3, { from: 'GLAZE', to: 'PACK' }));
  service.jobs.set(4, job(4, { from: 'GLAZE', to: 'DRY', state: 'loaded', cart: 'cart-1' }));
  service.jobs.set(5, job(5, { from: 'CAST', to: 'DRY' }));
  page = await open();
  await by(page, 'card-3').waitFor();
  assert.match(await text('others'), /Others’ jobs here/);
  assert.equal(await by(page, 'card-5').count(), 0, 'it neither comes from here nor goes here');
  assert.equal(await by(page, 'cancel-4').count(), 0);
  await by(page, 'cancel-3').tap();
  await until(() => service.jobs.get(3).state === 'cancelled', 'cancelled');
  await until(async () => (await by(page, 'card-3').count()) === 0, 'gone from the list');
});

test('a lost answer makes no second job, even after a reload', async () => {
  page = await open();
  service.losesAnswers = true;
  await by(page, 'send').tap();
  await by(page, 'choose-PACK').tap();
  await until(async () => /Maybe not sent/.test(await text('unsent')), 'it says so');
  await shot(page, 'here-unsent-phone');
  assert.equal(service.jobs.size, 1, 'the service has it');
  service.losesAnswers = false;
  await page.reload();
  await until(async () => (await by(page, 'unsent').count()) === 0, 'sent by itself', 15_000);
  await by(page, 'mine').locator('[data-testid=card-17]').waitFor();
  assert.equal(service.jobs.size, 1, 'and still one');
  assert.ok(posts().length >= 2);
  assert.equal(new Set(posts().map((r) => r.key)).size, 1);
});

test('offline is said plainly; what was pressed meanwhile is sent once the link is back', async () => {
  page = await open();
  service.refuseLinks = true;
  service.answer = () => 'hang up';
  service.dropLinks();
  await by(page, 'offline').waitFor();
  assert.match(await text('offline'), /^Offline since .* What you see is old\./);
  assert.match(await text('link'), /Offline/);
  await by(page, 'fetch').tap();
  await by(page, 'choose-DRY').tap();
  await until(async () => /Maybe not sent/.test(await text('unsent')), 'kept');
  assert.equal(service.jobs.size, 0);
  await shot(page, 'here-offline-phone');
  service.answer = () => undefined;
  service.refuseLinks = false;
  await by(page, 'mine').locator('[data-testid=card-17]').waitFor({ timeout: 20_000 });
  assert.equal(service.jobs.size, 1);
  assert.equal(await by(page, 'offline').count(), 0);
  assertQuiet(page);
});

test('a wish of long ago is not sent by itself; a person sends or forgets it', async () => {
  page = await newPage(browser, phone, thumb);
  const old = (key, minutes) => ({ key, wish: { from: 'GLAZE', to: 'PACK' }, pressed: Date.now() - minutes * 60_000 });
  await page.addInitScript((unsent) => {
    if (!localStorage.getItem('tagline.unsent')) localStorage.setItem('tagline.unsent', JSON.stringify(unsent));
  }, [old('first', 11), old('second', 12)]);
  await page.goto(`${service.url}here/GLAZE`);
  await page.waitForSelector('[data-link=live]');
  await new Promise((done) => setTimeout(done, 6_000)); // longer than the pause between two tries
  assert.equal(posts().length, 0);
  assert.match(await by(page, 'unsent').first().innerText(), /not sent by itself any more/);
  await by(page, 'forget').nth(1).tap();
  await until(async () => (await by(page, 'unsent').count()) === 1, 'forgotten');
  await by(page, 'send-again').tap();
  await by(page, 'card-17').waitFor();
  assert.deepEqual(posts().map((r) => r.key), ['first']);
});

test('what the service refuses is told in its words, and not tried again', async () => {
  service.answer = (method) =>
    method === 'POST' ? { status: 422, body: { detail: 'There is no way from Glazing to Packing.' } } : undefined;
  page = await open();
  await by(page, 'send').tap();
  await by(page, 'choose-PACK').tap();
  await by(page, 'notice').waitFor();
  assert.match(await text('notice'), /Glazing to Packing: There is no way/);
  assert.equal(await by(page, 'unsent').count(), 0);
  await new Promise((done) => setTimeout(done, 6_000));
  assert.equal(posts().length, 1);
});

test('an error of the service leaves the wish in the outbox', async () => {
  let failing = true;
  service.answer = (method) => (method === 'POST' && failing ? { status: 503, body: { detail: 'The service is stopping.' } } : undefined);
  page = await open();
  await by(page, 'send').tap();
  await by(page, 'choose-PACK').tap();
  await until(async () => /Maybe not sent/.test(await text('unsent')), 'kept');
  failing = false;
  await by(page, 'card-17').waitFor({ timeout: 15_000 });
  assert.equal(new Set(posts().map((r) => r.key)).size, 1);
});

test('my jobs are remembered, also when the service tells of them no more', async () => {
  page = await open();
  await by(page, 'send').tap();
  await by(page, 'choose-PACK').tap();
  await by(page, 'card-17').waitFor();
  // It ends while the phone is away, and drops out of the snapshot.
  const ended = { ...service.jobs.get(17), state: 'delivered', ended_at: now() };
  await page.goto('about:blank');
  service.jobs.clear();
  service.answer = (method, where) => (where === '/api/jobs/17' ? { status: 200, body: ended } : undefined);
  await page.goto(`${service.url}here/GLAZE`);
  await until(async () => /^Delivered/.test(await text('card-state-17').catch(() => '')), 'asked after');
  // A service with another data folder has another job 17, or none: mine is let go.
  service.answer = (method, where) => (where === '/api/jobs/17' ? { status: 404, body: {} } : undefined);
  await page.evaluate(() => {
    const [mine] = JSON.parse(localStorage.getItem('tagline.jobs'));
    localStorage.setItem('tagline.jobs', JSON.stringify([{ ...mine, state: 'queued', ended_at: null }]));
  });
  service.run = 'run2';
  await page.reload();
  await until(async () => (await by(page, 'card-17').count()) === 0, 'let go');
});

test('all stopped and a full station are said before anything is pressed', async () => {
  service.allStopped = true;
  service.stations.get('DRY').loads = 3;
  page = await open('here/DRY');
  assert.match(await text('here-stopped'), /All carts are stopped/);
  assert.match(await text('here-full'), /Drying is full/);
  service.stations.get('DRY').loads = 2;
  await by(page, 'stop-all').tap();
  await until(() => service.requests.some((r) => r.path === '/api/stop'), 'stop all is here too');
});

test('what is pressed most lies under the thumb, large enough', async () => {
  service.change({ jobs: Array.from({ length: 9 }, (_, i) => job(i + 1, { from: 'GLAZE', to: 'PACK' })) });
  page = await open();
  for (const id of ['send', 'fetch']) {
    const box = await by(page, id).boundingBox();
    assert.ok(box.y > phone.height / 2 && box.y + box.height <= phone.height, `${id} is in the lower half`);
    assert.ok(box.height >= 56 && box.width >= 150, `${id} is ${box.width} x ${box.height}`);
  }
  await by(page, 'send').tap();
  await by(page, 'choose-PACK').waitFor();
  const boxes = await by(page, 'choice').locator('button').evaluateAll((all) => all.map((b) => b.getBoundingClientRect().height));
  assert.ok(Math.min(...boxes) >= 44, `${boxes}`);
  assert.ok((await by(page, 'choose-PACK').boundingBox()).y > phone.height / 3);
  assert.equal(await sideways(page), 0);
  await by(page, 'choice-no').tap();
  // The last card can be scrolled clear of the fixed buttons.
  await page.evaluate(() => window.scrollTo(0, document.body.scrollHeight));
  const last = await by(page, 'others').locator('.card').last().boundingBox();
  assert.ok(last.y + last.height <= (await by(page, 'send').boundingBox()).y);
});

test('the keyboard alone sends a load, and Escape sends nothing', async () => {
  page = await open('here/GLAZE', desk);
  await by(page, 'send').focus();
  await page.keyboard.press('Enter');
  await by(page, 'choice').waitFor();
  await page.keyboard.press('Escape');
  await until(async () => (await by(page, 'choice').count()) === 0, 'closed');
  assert.equal(await page.evaluate(() => document.activeElement.dataset.testid), 'send');
  await page.keyboard.press('Enter');
  await until(async () => (await page.evaluate(() => document.activeElement.dataset.testid)) === 'choose-CAST', 'the first one');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await by(page, 'card-17').waitFor();
  assert.deepEqual(posts()[0].body, { from: 'GLAZE', to: 'DRY' });
});
