// The page of the past against the fake service: the board of a moment with its reasons, the slider,
// steps, playing, marks, and that nothing there acts.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { assertQuiet, by, desk, drawnAt, newPage, phone, shot, sideways, until } from './browser.mjs';
import { FakePast } from './fake_past.mjs';
import { browser, service, setStage } from './stage.mjs';

let past;
let page;

setStage(() => {
  past = new FakePast();
  service.answer = past.answer;
});

async function open(at, size = desk, more = { timezoneId: 'Asia/Kolkata' }) {
  page = await newPage(browser, size, more);
  await page.goto(`${service.url}past${at === undefined ? '' : `?at=${new Date(at).toISOString()}`}`);
  await shown();
}
const shown = () => page.waitForSelector('main.past:not(.not-shown)', { timeout: 30_000 });
const mode = (cart) => by(page, `row-${cart}`).getAttribute('data-mode');
const slider = () => by(page, 'slider').inputValue().then(Number);

test('it shows the latest moment first, marked as the past, with nothing that acts', async () => {
  await open();
  assert.equal(past.asked[0].at, new Date(past.end).toISOString());
  assert.match(await by(page, 'past-sign').innerText(), /PAST[\s\S]*Nothing can be stopped or released here/);
  assert.match(await by(page, 'past-moment').innerText(), /^\w{3} \d{1,2} \w+ \d{4}, \d\d:\d\d:\d\d \+05:30$/);
  assert.equal(await mode('cart-1'), 'driving');
  assert.match(await page.title(), /^Past, Pottery, run 2/);
  const words = await page.locator('button').allInnerTexts();
  assert.ok(words.length > 5);
  for (const text of words) assert.doesNotMatch(text, /stop|release|place|remove|cancel|queue|service|count/i);
  assert.equal(await page.locator('a', { hasText: 'To the board' }).getAttribute('href'), '/');
  await shot(page, 'past-desk');
  assert.ok(service.requests.every((r) => r.method === 'GET'));
  assertQuiet(page);
});

test('a moment before: the reasons as they were, from the drawing and the lists', async () => {
  await open(past.drives - 30_000);
  assert.equal(await mode('cart-1'), 'waiting');
  assert.match(await by(page, 'why-cart-1').locator('summary').innerText(), /passes first, for 1 min\./, 'as long as it had been then');
  assert.equal(await by(page, 'job-5').getAttribute('data-state'), 'queued');
  assert.match(await by(page, 'job-5').innerText(), /1 min old/);
  await by(page, 'cart-cart-1').click();
  assert.match(await by(page, 'standing').innerText(), /Why it stood[\s\S]*until a person releases it/);
  assert.equal(await by(page, 'standing').locator('button').count(), 1, 'only back');
  assertQuiet(page);
});

test('steps and the slider go to other moments, and the address leads back', async () => {
  const at = past.drives - 30_000;
  await open(at);
  await by(page, 'step60').click();
  await until(() => past.asked.at(-1).at === new Date(at + 60_000).toISOString(), 'a minute on');
  await shown();
  assert.equal(await mode('cart-1'), 'driving');
  await by(page, 'step-10').click();
  await until(() => past.asked.at(-1).at === new Date(at + 50_000).toISOString(), '10 s back');
  await shown();
  await until(() => page.url().includes(encodeURIComponent(new Date(at + 50_000).toISOString())), 'the address');
  await by(page, 'slider').focus();
  await page.keyboard.press('Home');
  await shown();
  await until(async () => (await mode('cart-1')) === 'waiting', 'the slider goes to its beginning');
  assert.ok((await slider()) < past.end - 7_100_000);
  assert.match(await page.title(), /run 1/, 'on the floor of that run');
});

test('between two runs it says that the service was not running', async () => {
  await open(past.end - 4_500_000);
  assert.match(await by(page, 'past-sign').innerText(), /was not running then/);
});

test('it plays on at several speeds, and pauses', async () => {
  await open(past.drives - 40_000);
  await by(page, 'play-60').click();
  await until(async () => (await mode('cart-1')) === 'driving', 'the cart sets off');
  await until(async () => (await drawnAt(page, 'cart-1'))[0] < 1_900, 'it glides');
  assert.ok(past.asked.some((a) => a.step === '10' && a.from));
  await by(page, 'play-60').click();
  await page.waitForTimeout(1_500); // the drawn cart has caught up with where it was by then
  const stood = await drawnAt(page, 'cart-1');
  const words = await by(page, 'past-moment').innerText();
  await page.waitForTimeout(1_500);
  assert.deepEqual(await drawnAt(page, 'cart-1'), stood);
  assert.equal(await by(page, 'past-moment').innerText(), words);
  assertQuiet(page);
});

test('playing ends where the run ends', async () => {
  await open(past.end - 20_000);
  await by(page, 'play-60').click();
  await until(async () => past.end - (await slider()) < 11_000, 'it comes to the end', 15_000);
  await until(async () => (await by(page, 'play-60').innerText()).startsWith('Play'), 'it has stopped', 15_000);
});

test('alarms are marked, and lead to just before they were raised', async () => {
  await open();
  assert.equal(await page.locator('.time-alarm').count(), 1);
  assert.equal(await page.locator('.time-known').count(), 2);
  await by(page, 'alarm-jumps').locator('summary').click();
  await by(page, 'jump-3').click();
  await until(() => past.asked.at(-1).at === new Date(past.alarmAt - 5_000).toISOString(), 'asked for');
  await shown();
  assert.equal(await by(page, 'alarms').count(), 0, 'not raised yet');
  await by(page, 'step10').click();
  await by(page, 'alarms').waitFor();
  assert.equal(await page.locator('[role=alert]').innerText(), '', 'the past is not cried out');
});

test('a moment that takes long is asked for again until it is there', async () => {
  past.notYet = 2;
  page = await newPage(browser);
  await page.goto(`${service.url}past`);
  await until(async () => /worked out until half the way/.test(await by(page, 'past-trouble').innerText()), 'words');
  await shown();
  assert.equal(past.asked.length, 3);
  assert.equal(await by(page, 'past-trouble').innerText(), '');
});

test('on a phone it fits, and is looked at', async () => {
  await open(past.drives + 3_000, phone, { hasTouch: true, isMobile: true });
  assert.equal(await sideways(page), 0);
  for (const id of ['step-60', 'play-1', 'slider']) assert.ok((await by(page, id).boundingBox()).height >= 44, id);
  await shot(page, 'past-phone');
  assertQuiet(page);
});
