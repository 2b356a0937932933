// The door as a person meets it: setup, signing in and back to where one was, signing out, sessions
// that end, what a role may not do is not offered, accounts, tokens and the log. The service's side
// is a stub here (fake_door.mjs).
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, newPage, openBoard, phone, shot, sideways, until } from './browser.mjs';
import { FakeDoor } from './fake_door.mjs';
import { job } from './fake_floor.mjs';
import { FakePast } from './fake_past.mjs';
import { browser, service, setStage } from './stage.mjs';

let page;

setStage(() => {
  service.door = new FakeDoor(['Bea', 'builder', 'clay-and-water'], ['Sam', 'supervisor', 'slip'], ['Olu', 'operator', 'bisque'], ['Vic', 'viewer', 'gloss']);
});

const path = () => new URL(page.url()).pathname;
const text = (id) => by(page, id).innerText();
const at = (where) => until(() => path() === where, `at ${where}`);
const passwords = { Bea: 'clay-and-water', Sam: 'slip', Olu: 'bisque', Vic: 'gloss' };

async function open(where, size = desk) {
  page = await newPage(browser, size);
  await page.goto(service.url + where);
}
async function signIn(name, password = passwords[name]) {
  await by(page, 'sign-in-name').fill(name);
  await by(page, 'sign-in-password').fill(password);
  await by(page, 'sign-in').click();
}
async function openAs(name, where = '', size = desk) {
  await open(where, size);
  await by(page, 'sign-in').waitFor();
  await signIn(name);
  await at(`/${where}`);
  await by(page, 'account').waitFor();
}

for (const [name, size] of [['phone', phone], ['desk', desk]]) {
  test(`on a ${name} one is led to the sign-in page, and back to where one was`, async () => {
    await open('here/GLAZE', size);
    await at('/sign-in');
    await by(page, 'sign-in').waitFor();
    await shot(page, `sign-in-${name}`);
    await signIn('Olu', 'wrong');
    await until(async () => (await text('door-trouble')) === 'Name or password is wrong.', 'refused');
    assert.equal(await by(page, 'sign-in-password').inputValue(), '');
    assert.equal(await by(page, 'sign-in-name').inputValue(), 'Olu');
    assert.equal(await page.evaluate(() => document.activeElement.type), 'password');
    await signIn('Olu');
    await at('/here/GLAZE');
    await by(page, 'send').click();
    await by(page, 'choose-PACK').click();
    await by(page, 'card-17').waitFor();
    assert.match(await text('account'), /Olu, operator/);
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });

  test(`on a ${name} the first account is made with the code from the console`, async () => {
    service.door.accounts.clear();
    await open('', size);
    await at('/setup');
    await shot(page, `setup-${name}`);
    await by(page, 'setup-code').fill('wrong');
    await by(page, 'setup-name').fill('Ada');
    await by(page, 'setup-password').fill('earthenware');
    await by(page, 'setup-again').fill('stoneware');
    await by(page, 'set-up').click();
    assert.match(await text('door-trouble'), /differ/);
    assert.ok(!service.requests.some((r) => r.path === '/api/setup'));
    await by(page, 'setup-again').fill('earthenware');
    await by(page, 'set-up').click();
    await until(async () => /not the setup code/.test(await text('door-trouble')), 'a wrong code');
    await by(page, 'setup-code').fill(' kiln-7-bowl ');
    await by(page, 'set-up').click();
    await at('/');
    await until(async () => /Ada, builder/.test(await text('account')), 'signed in');
    assert.deepEqual(service.requests.filter((r) => r.path === '/api/setup').at(-1).body, { code: 'kiln-7-bowl', name: 'Ada', password: 'earthenware' });
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });

  test(`on a ${name} a builder adds, changes and removes an account`, async () => {
    await openAs('Bea', 'people', size);
    await by(page, 'account-Olu').waitFor();
    await shot(page, `people-${name}`);
    await page.locator('summary', { hasText: 'Add an account' }).click();
    await by(page, 'new-name').fill('Nia');
    await by(page, 'new-role').selectOption('viewer');
    await by(page, 'new-password').fill('raku-firing');
    await by(page, 'add-account').click();
    await until(async () => /Viewer/.test(await text('account-Nia').catch(() => '')), 'added');
    assert.equal(service.door.accounts.get('Nia').password, 'raku-firing');
    await by(page, 'add-account').click(); // the fields are empty again: nothing is sent
    await by(page, 'role-Nia').click();
    assert.equal(await by(page, 'confirm-yes').isDisabled(), true, 'the same role');
    await by(page, 'set-role').selectOption('operator');
    await by(page, 'confirm-yes').click();
    await until(async () => /Operator/.test(await text('account-Nia')), 'another role');
    await by(page, 'password-Nia').click();
    await by(page, 'set-password').fill('salt-glaze');
    await by(page, 'confirm-yes').click();
    await until(() => service.door.accounts.get('Nia').password === 'salt-glaze', 'a new password');
    await by(page, 'remove-Nia').click();
    assert.match(await text('confirm'), /signed out everywhere/);
    assert.ok(service.door.accounts.has('Nia'));
    await by(page, 'confirm-yes').click();
    await until(async () => (await by(page, 'account-Nia').count()) === 0, 'removed');
    assert.equal(await by(page, 'remove-Bea').count(), 0, 'not oneself');
    assert.equal(service.requests.filter((r) => r.method === 'POST' && r.path === '/api/accounts').length, 1);
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });

  test(`on a ${name} a token is made, shown once, and revoked`, async () => {
    await openAs('Bea', 'people', size);
    await page.locator('summary', { hasText: 'Make a token' }).click();
    await by(page, 'token-name').fill('Button at Glazing');
    await by(page, 'token-from').selectOption('GLAZE');
    await by(page, 'token-to').selectOption('PACK');
    await by(page, 'token-days').fill('90');
    await by(page, 'make-token').click();
    await by(page, 'made-token').waitFor();
    assert.equal(await by(page, 'token-text').inputValue(), 'tl_shown-only-once');
    assert.match(await text('made-token'), /Bearer tl_shown-only-once' http:.*\/api\/call/);
    assert.deepEqual(service.requests.find((r) => r.path === '/api/tokens' && r.body).body, { name: 'Button at Glazing', scope: 'call', days: 90, from: 'GLAZE', to: 'PACK' });
    await by(page, 'tokens').scrollIntoViewIfNeeded();
    await shot(page, `token-${name}`);
    await by(page, 'token-away').click();
    assert.equal(await page.locator('text=tl_shown-only-once').count(), 0);
    await until(async () => /Call button: Glazing to Packing[\s\S]*never used/.test(await text('token-t1')), 'listed');
    await by(page, 'revoke-t1').click();
    await by(page, 'confirm-yes').click();
    await until(async () => (await by(page, 'token-t1').count()) === 0, 'revoked');
    assert.equal(await sideways(page), 0);
    assertQuiet(page);
  });
}

test('everything that changes something goes with the csrf, and a stale one is asked for anew', async () => {
  await openAs('Sam');
  await by(page, 'stop-all').click();
  await by(page, 'release-all').waitFor();
  const session = [...service.door.sessions.values()][0];
  assert.equal(service.requests.find((r) => r.path === '/api/stop').csrf, session.csrf);
  assert.ok(service.requests.filter((r) => r.method === 'GET').every((r) => r.csrf === undefined));
  session.csrf = 'another';
  await by(page, 'stop-all').click();
  await until(() => service.requests.some((r) => r.path === '/api/stop' && r.csrf === 'another'), 'with the new one');
  await until(async () => /Stop sent/.test(await text('notice')), 'done');
});

test('a stop pressed before the page knows who is signed in still goes through', async () => {
  await openAs('Sam');
  let answered = () => {};
  const pressed = new Promise((done) => (answered = done));
  await page.route('**/api/me', async (route) => {
    await pressed;
    await route.continue();
  });
  await page.reload();
  await by(page, 'stop-all').click();
  const stops = () => service.requests.filter((r) => r.path === '/api/stop');
  await until(() => stops().length, 'sent');
  assert.equal(stops()[0].csrf, undefined, 'before the page knew');
  answered();
  await until(() => service.allStopped, 'stopped');
});

test('a session that ends closes the link, and leads to the sign-in page and back', async () => {
  await openAs('Sam', 'here/DRY');
  service.door.sessions.clear();
  for (const link of service.sockets.clients) link.close(4401);
  await at('/sign-in');
  assert.match(page.url(), /back=%2Fhere%2FDRY/);
  await signIn('Sam');
  await at('/here/DRY');
});

test('a session that ends while the link is down leads to the sign-in page too', async () => {
  await openAs('Sam', 'here/DRY');
  service.refuseLinks = true;
  const asked = () => service.requests.filter((r) => r.path === '/api/me').length;
  const before = asked();
  service.dropLinks();
  await by(page, 'offline').waitFor();
  await until(() => asked() > before, 'asked who is signed in');
  assert.equal(path(), '/here/DRY', 'signed in still');
  service.door.sessions.clear();
  await at('/sign-in');
  assert.match(page.url(), /back=%2Fhere%2FDRY/);
});

test('the past leads to the sign-in page, and back to its moment', async () => {
  const fake = new FakePast();
  service.answer = fake.answer;
  const moment = `past?at=${new Date(fake.drives).toISOString()}`;
  await open(moment);
  await at('/sign-in');
  assert.equal(new URL(page.url()).searchParams.get('back'), `/${moment}`);
  await signIn('Vic');
  await at('/past');
  await page.waitForSelector('main.past:not(.not-shown)');
  await until(async () => /Vic, viewer/.test(await text('account')), 'signed in');
  service.door.sessions.clear();
  await by(page, 'step10').click();
  await at('/sign-in');
});

test('a wish pressed when the session had just ended is sent after signing in, once', async () => {
  await openAs('Olu', 'here/GLAZE', phone);
  await by(page, 'send').waitFor();
  service.door.sessions.clear();
  await by(page, 'send').click();
  await by(page, 'choose-PACK').click();
  await at('/sign-in');
  assert.equal(service.jobs.size, 0);
  await signIn('Olu');
  await by(page, 'card-17').waitFor({ timeout: 15_000 });
  assert.equal(service.jobs.size, 1);
});

test('signing out ends the session', async () => {
  await openAs('Olu');
  await by(page, 'sign-out').click();
  await at('/sign-in');
  assert.equal(service.door.sessions.size, 0);
  await page.goto(service.url);
  await at('/sign-in');
});

test('back leads nowhere but into this service', async () => {
  for (const bad of ['//elsewhere.example/', '/\\elsewhere.example', 'https://elsewhere.example', '/\t/elsewhere.example', '/sign-in']) {
    await open(`sign-in?back=${encodeURIComponent(bad)}`);
    await signIn('Olu');
    await at('/');
    assert.equal(new URL(page.url()).host, new URL(service.url).host, bad);
    await page.context().close();
  }
  await open(`sign-in?back=${encodeURIComponent('/here/DRY?x=1')}`);
  await signIn('Olu');
  await at('/here/DRY');
});

test('tried too often is told in the service’s words', async () => {
  service.door.tooOften = true;
  await open('');
  await at('/sign-in');
  await signIn('Olu');
  await until(async () => /Wait 20 s/.test(await text('door-trouble')), 'told');
});

test('a role is offered what it may do, and no more', async () => {
  service.zones = [{ id: 'KILNS', name: 'Kilns', segments: ['S15'], stopped: false }];
  service.changeCart('cart-2', { mode: 'needs_release' });
  service.allStopped = true;
  service.jobs.set(3, job(3));
  // What is there for a viewer, an operator, a supervisor.
  const parts = {
    'job-form': [0, 1, 1], 'cancel-3': [0, 1, 1], 'stop-all': [0, 1, 1], 'stop-cart-1': [0, 1, 1],
    'stop-zone-KILNS': [0, 1, 1], 'count-DRY': [0, 1, 1], 'release-all': [0, 0, 1],
    'release-cart-2': [0, 0, 1], 'place-cart-1': [0, 0, 1], 'remove-cart-1': [0, 0, 1], 'take-out': [0, 0, 1],
  };
  for (const [i, name] of ['Vic', 'Olu', 'Sam'].entries()) {
    await openAs(name);
    await by(page, 'job-3').waitFor();
    for (const [part, counts] of Object.entries(parts)) assert.equal(await by(page, part).count(), counts[i], `${part} for ${name}`);
    await page.goto(`${service.url}people`);
    await by(page, 'my-role').waitFor();
    assert.equal(await by(page, 'accounts').count(), 0, name);
    assert.equal(await by(page, 'audit').count(), name === 'Sam' ? 1 : 0, name);
    assertQuiet(page);
    await page.context().close();
  }
  await openAs('Vic', 'here/GLAZE', phone);
  assert.match(await text('looks-only'), /may look only/);
  assert.equal(await by(page, 'send').count(), 0);
});

test('one’s own password is changed with the old one', async () => {
  await openAs('Olu', 'people');
  await page.locator('summary', { hasText: 'Change my password' }).click();
  const fill = async (old, fresh, again) => {
    await by(page, 'own-old').fill(old);
    await by(page, 'own-new').fill(fresh);
    await by(page, 'own-again').fill(again);
    await by(page, 'own-change').click();
  };
  await fill('bisque', 'new-one', 'other');
  assert.match(await text('own-trouble'), /differ/);
  await fill('wrong', 'new-one', 'new-one');
  await until(async () => /old password is wrong/.test(await text('own-trouble')), 'refused, and not led away');
  assert.equal(path(), '/people');
  await fill('bisque', 'new-one', 'new-one');
  await until(() => service.door.accounts.get('Olu').password === 'new-one', 'changed');
});

test('the log is read a page at a time, latest first', async () => {
  for (let i = 0; i < 120; i++) service.door.note('Olu', 'cancel_job', `jobs/${i}`);
  await openAs('Sam', 'people');
  const rows = page.locator('[data-testid=audit] tbody tr');
  await until(async () => (await rows.count()) === 50, 'the first page');
  assert.match(await rows.first().innerText(), /GMT[\s\S]*Olu\s+cancel job\s+jobs\/119\s+done\s+127\.0\.0\.1/);
  await by(page, 'audit-older').click();
  await until(async () => (await rows.count()) === 100, 'the second');
  await by(page, 'audit-older').click();
  await until(async () => (await rows.count()) === 120, 'the last');
  assert.equal(await by(page, 'audit-older').count(), 0);
  assert.match(await rows.last().innerText(), /jobs\/0\s/);
});

test('the demo lets everybody in and says so; a service without a door is as before', async () => {
  service.door.demo = 'builder';
  page = await openBoard(browser, service.url);
  await until(async () => /Demo: everybody is let in as builder/.test(await text('account')), 'it says so');
  assert.equal(await by(page, 'sign-out').count(), 0);
  await by(page, 'stop-all').click();
  await by(page, 'release-all').waitFor();
  await page.context().close();
  service.door = null;
  page = await openBoard(browser, service.url);
  assert.equal(await by(page, 'account').count(), 0);
  assert.equal(await by(page, 'job-form').count(), 1);
  assert.equal(await page.locator('a[href="/people"]').count(), 0);
  await page.goto(`${service.url}sign-in`);
  await at('/');
  assertQuiet(page);
});
