// A shift at the works, against the real service with its door shut and carts in a process of their
// own: the first start, people let in, carts placed by two who press at once, a load sent and said to
// be on, and a service that is killed in the middle of it. Each story goes on where the last ended.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { assertQuiet, by, desk, launch, newPage, phone, shot, until } from './browser.mjs';
import { ShiftWorks } from './shift_works.mjs';

const works = new ShiftWorks();
const passwords = { Ada: 'first-firing-cone-6', Sina: 'kiln-shelf-and-props', Olu: 'slip-and-sprig-mould' };
let browser;
/** One for each person, signed in until the end. */
const pages = {};

before(async () => {
  await works.start();
  browser = await launch();
});
after(async () => {
  await browser?.close();
  await works.stop();
});

const text = (who, id) => by(pages[who], id).innerText();
const at = (who, where) => until(() => new URL(pages[who].url()).pathname === where, `${who} is at ${where}`);
/** What the service says to that person. */
const read = (who, what) => pages[who].evaluate((where) => fetch(where).then((r) => r.json()), what);
const cartsOf = async (who) => (await read(who, '/api/carts')).carts;

async function signIn(who, size, where) {
  const page = (pages[who] = await newPage(browser, size, size === phone ? { hasTouch: true, isMobile: true } : {}));
  await page.goto(works.url + where);
  await by(page, 'sign-in-name').fill(who);
  await by(page, 'sign-in-password').fill(passwords[who]);
  await by(page, 'sign-in').click();
  await page.waitForSelector('[data-testid=link][data-link=live]', { timeout: 30_000 });
}

test('the first start: with the code from the console a builder comes in and lets others in', { timeout: 120_000 }, async () => {
  const page = (pages.Ada = await newPage(browser, desk));
  await page.goto(works.url);
  await at('Ada', '/setup');
  const code = works.setupCode();
  assert.ok(code, works.said);
  await by(page, 'setup-code').fill(code);
  await by(page, 'setup-name').fill('Ada');
  await by(page, 'setup-password').fill(passwords.Ada);
  await by(page, 'setup-again').fill(passwords.Ada);
  await by(page, 'set-up').click();
  await at('Ada', '/');
  await page.goto(`${works.url}people`);
  await page.locator('summary', { hasText: 'Add an account' }).click();
  for (const [name, role] of [['Sina', 'supervisor'], ['Olu', 'operator']]) {
    await by(page, 'new-name').fill(name);
    await by(page, 'new-role').selectOption(role);
    await by(page, 'new-password').fill(passwords[name]);
    await by(page, 'add-account').click();
    await by(page, `account-${name}`).waitFor();
  }
  await page.goto(works.url);
  await page.waitForSelector('[data-testid=link][data-link=live]', { timeout: 30_000 });
  const again = await fetch(new URL('/api/setup', works.url), {
    method: 'POST', headers: { 'Content-Type': 'application/json', Origin: works.url.slice(0, -1) },
    body: JSON.stringify({ code, name: 'Eve', password: 'a-second-use-of-it' }),
  });
  assert.ok(again.status >= 400, `the code is good once only: ${again.status}`);
});

test('supervisor and builder place the same cart at the same moment: once, and one is told so', { timeout: 120_000 }, async () => {
  await signIn('Sina', desk, '');
  await until(async () => (await cartsOf('Sina')).every((cart) => cart.connected), 'both carts have greeted');
  const ask = async (who, cart, point) => {
    await by(pages[who], `place-${cart}`).click();
    await by(pages[who], 'place-point').selectOption(point);
    await until(() => by(pages[who], 'confirm-yes').isEnabled(), 'it can be pressed');
  };
  await Promise.all([ask('Sina', 'cart-1', works.homes[0]), ask('Ada', 'cart-1', works.homes[0])]);
  await Promise.all([by(pages.Sina, 'confirm-yes').click(), by(pages.Ada, 'confirm-yes').click()]);
  const notices = async () => [await text('Sina', 'notice'), await text('Ada', 'notice')];
  await until(async () => (await notices()).every((words) => words), 'both are told something');
  const placed = (await notices()).filter((words) => /is placed at/.test(words));
  assert.equal(placed.length, 1, `${await notices()}`);
  const { entries } = await read('Ada', '/api/audit');
  const tries = entries.filter((entry) => entry.what === 'place_cart');
  assert.deepEqual(tries.map((entry) => entry.outcome.split(':')[0]).sort(), ['done', 'refused']);
  assert.deepEqual(tries.map((entry) => entry.who).sort(), ['Ada', 'Sina']);
  await ask('Sina', 'cart-2', works.homes[1]);
  await by(pages.Sina, 'confirm-yes').click();
  await until(async () => (await cartsOf('Sina')).every((cart) => cart.mode === 'idle'), 'both stand ready');
  await shot(pages.Sina, 'shift-placed');
});

test('an operator sends a load, says on the phone that it is on, and the cart drives off at once', { timeout: 240_000 }, async () => {
  await signIn('Olu', phone, 'here/GLAZE');
  await by(pages.Olu, 'send').click();
  await by(pages.Olu, 'choose-PACK').click();
  const told = pages.Olu.locator('[data-testid^=handled-]');
  await told.waitFor({ timeout: 120_000 });
  await shot(pages.Olu, 'shift-handled-phone');
  const id = Number((await told.getAttribute('data-testid')).split('-')[1]);
  assert.equal((await read('Olu', `/api/jobs/${id}`)).state, 'assigned');
  await told.click();
  // Left alone it would stand there for another ten seconds.
  await until(async () => (await read('Olu', `/api/jobs/${id}`)).state === 'loaded', 'the load is on', 5_000);
  await until(async () => (await by(pages.Olu, 'handled-' + id).count()) === 0, 'and nobody is asked any more');
  await until(async () => (await read('Olu', `/api/jobs/${id}`)).state === 'delivered', 'delivered', 120_000);
});

test('both press cancel on one job: it is cancelled once', { timeout: 120_000 }, async () => {
  await by(pages.Olu, 'send').click();
  await by(pages.Olu, 'choose-PACK').click();
  const jobs = async () => (await read('Olu', '/api/jobs?limit=50')).jobs;
  const job = await until(async () => (await jobs()).find((one) => !one.ended_at), 'a job');
  await Promise.all(['Olu', 'Sina'].map((who) => by(pages[who], `cancel-${job.id}`).waitFor()));
  // The click of whoever comes second may find the button gone: then the board was quicker.
  await Promise.all(['Olu', 'Sina'].map((who) => by(pages[who], `cancel-${job.id}`).click({ timeout: 3_000 }).catch(() => {})));
  await until(async () => (await read('Olu', `/api/jobs/${job.id}`)).state === 'cancelled', 'cancelled');
  const { entries } = await read('Ada', '/api/audit');
  const tries = entries.filter((entry) => entry.what === 'cancel_job').map((entry) => entry.outcome);
  assert.equal(tries.filter((outcome) => outcome === 'done').length, 1, `${tries}`);
});

test('the service is killed and started again: nothing is lost, nothing sent twice, nobody signs in anew', { timeout: 300_000 }, async () => {
  await by(pages.Olu, 'send').click();
  await by(pages.Olu, 'choose-SORT').click();
  const open = async () => (await read('Olu', '/api/jobs?limit=50')).jobs.filter((one) => !one.ended_at);
  const first = (await until(async () => { const all = await open(); return all.length && all; }, 'taken'))[0];
  await until(async () => (await cartsOf('Olu')).some((cart) => cart.mode === 'driving'), 'a cart drives');
  await read('Ada', '/api/audit');  // what it shows is on disk
  await works.kill();
  await by(pages.Olu, 'offline').waitFor();
  await until(async () => (await by(pages.Sina, 'link').getAttribute('data-link')) === 'lost', 'the supervisor sees it too');
  await by(pages.Olu, 'fetch').click();
  await by(pages.Olu, 'choose-CAST').click();
  await until(async () => /Maybe not sent/.test(await text('Olu', 'unsent')), 'it is kept on the phone');
  await shot(pages.Olu, 'shift-offline-phone');
  await works.serve();
  await until(async () => (await by(pages.Olu, 'link').getAttribute('data-link')) === 'live', 'back', 40_000);
  const all = await until(async () => { const list = await open().catch(() => []); return list.length === 2 && list; }, 'both jobs, once each', 30_000);
  assert.ok(all.some((one) => one.id === first.id && one.created === first.created), 'the first is the same one');
  assert.ok(all.some((one) => one.from === 'CAST' && one.to === 'GLAZE'));
  const done = async () => (await open()).length === 0;
  await until(done, 'both are delivered, and no person had to place or release a cart', 200_000);
  const ended = (await read('Olu', '/api/jobs?limit=50')).jobs;
  assert.deepEqual(ended.map((one) => one.state).sort(), ['cancelled', 'delivered', 'delivered', 'delivered']);
  const { entries } = await read('Ada', '/api/audit');
  const asked = entries.filter((entry) => entry.what === 'ask_job');
  assert.equal(asked.length, 4);
  assert.ok(asked.every((entry) => entry.who === 'Olu'));
  for (const page of Object.values(pages)) assertQuiet(page);
});
