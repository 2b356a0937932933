// Try-outs without a page: the carts of a moment, the moment going on, one try-out in the place of
// another, and what is said of the figures.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { TryoutDesk, type Tried } from '../src/tryout/desk.ts';
import { Playback, seenAt } from '../src/tryout/playback.ts';
import { queryOf, type Movement, type Report, type Sighting, type Tryout, type Wish } from '../src/tryout/service.ts';
import { runClockWords, gain, gainWords, metOf, metWords, percent, safetyWords, timeWords, waitedElsewhere, waitedFor } from '../src/tryout/words.ts';

const doing = ['loaded', 'empty', 'waiting'];
const line: Sighting[] = [
  [0, 0, 0, 170, 2, 0],
  [10_000, 0, 0, 170, 1, 0],
  [12_000, 1_000, 400, -170, 0, 1],
  [12_000, 5_000, 5_000, 90, 2, 1],
];
const movement: Movement = { until_s: 20, doing, carts: [{ cart: 'cart-1', sightings: line }, { cart: 'cart-2', sightings: [] }] };

const report: Report = {
  jobs_created: 100, jobs_refused: 0, deliveries: 96, jobs_open: 4, deliveries_per_hour: 24, bound_per_hour: 30,
  body_contacts: 0, held_conflicts: 0, gridlocks: 0, stuck_carts: 0, helped: 0,
  lead_time_s: { p50: 100, p95: 900 },
  share: { loaded: 0.3, empty: 0.2, waiting: 0.25, handling: 0.1, charging: 0.05, resting: 0.1 },
  merges: [{ point: 'P1', waits: 2, seconds: 30 }, { point: 'P2', waits: 0, seconds: 0 }, { point: 'P3', waits: 9, seconds: 400 }],
  simulated_s: 3_600,
};
const wish: Wish = { carts: 2, hours: 1, seed: 1, jobs: 'demand' };
const tryout: Tryout = { max_live_carts: 3, demand_per_hour: 24, report, movement };

test('between two sightings a cart goes straight and turns the shorter way; before and after, it stands', () => {
  assert.deepEqual(seenAt(line, doing, 5_000), { x: 0, y: 0, nose: 170, doing: 'waiting', loaded: false });
  assert.deepEqual(seenAt(line, doing, 11_000), { x: 500, y: 200, nose: 180, doing: 'empty', loaded: false });
  assert.equal(seenAt(line, doing, 12_000)!.x, 5_000, 'put there by hand');
  assert.deepEqual(seenAt(line, doing, 99_000), { x: 5_000, y: 5_000, nose: 90, doing: 'waiting', loaded: true });
  assert.equal(seenAt([], doing, 0), null);
  const back: Sighting[] = [[0, 0, 0, -170, 0, 0], [1_000, 0, 0, 170, 0, 0]];
  assert.equal(seenAt(back, doing, 500)!.nose, -180);
});

test('a playback goes on at its speed, stops at its end, and begins anew from there', () => {
  const playback = new Playback(movement);
  let told = 0;
  const stop = playback.watch(() => (told += 1));
  playback.advance(1_000);
  assert.equal(playback.at, 0);
  assert.equal(told, 0, 'nobody is told while it stands');
  playback.play(5);
  playback.advance(1_000);
  assert.equal(playback.at, 5_000);
  assert.deepEqual(playback.carts().map((c) => c.cart), ['cart-1']);
  playback.goTo(19_000);
  playback.advance(1_000);
  assert.equal(playback.at, 20_000);
  assert.equal(playback.speed, 0);
  playback.goTo(-5);
  assert.equal(playback.at, 0);
  playback.goTo(1e9);
  assert.equal(playback.at, 20_000);
  playback.play(1);
  assert.equal(playback.at, 0);
  playback.pause();
  assert.equal(playback.speed, 0);
  const before = told;
  stop();
  playback.goTo(3);
  assert.equal(told, before);
});

test('words say what was measured, with units', () => {
  assert.equal(timeWords(119.4), '119 s');
  assert.equal(timeWords(150), '2.5 min');
  assert.equal(timeWords(9_000), '2.5 h');
  assert.equal(runClockWords(185_999), '3:05');
  assert.equal(percent(0.25), '25 %');
  assert.equal(percent(0.042), '4.2 %');
  assert.deepEqual(waitedFor(report).map((m) => m.point), ['P3', 'P1']);
  assert.equal(waitedElsewhere(report, wish), 0.25 * 2 * 3_600 - 430);
  assert.equal(queryOf({ ...wish, jobs: 'per_hour', jobs_per_hour: 7 }), 'carts=2&hours=1&seed=1&jobs=per_hour&jobs_per_hour=7');
});

test('the demand is met or not by its rule, and not asked where the queue never ends', () => {
  assert.equal(metOf(report, wish), true, '96 of 100');
  assert.equal(metOf({ ...report, deliveries: 94, jobs_open: 6 }, wish), false);
  assert.equal(metOf({ ...report, jobs_created: 20, deliveries: 18, jobs_open: 2 }, wish), true, 'one under way for each cart');
  assert.equal(metOf({ ...report, jobs_refused: 1 }, wish), false);
  assert.equal(metOf(report, { ...wish, jobs: 'endless' }), null);
  assert.equal(metWords({ ...report, deliveries: 60, jobs_open: 37, jobs_refused: 3 }, wish), 'Not met: 60 of 100 jobs delivered, 37 open at the end, 3 refused');
});

test('anything that must never happen is no good safety', () => {
  assert.deepEqual(safetyWords(report), { good: true, text: '0 contacts of bodies, 0 conflicts in the books, 0 gridlocks, 0 carts stuck' });
  for (const key of ['body_contacts', 'held_conflicts', 'gridlocks', 'stuck_carts'] as const) {
    const one = safetyWords({ ...report, [key]: 1 });
    assert.equal(one.good, false, key);
    assert.match(one.text, /\b1 [a-z]/);
  }
  assert.equal(safetyWords({ ...report, broken: 'the core broke' }).good, false);
});

/** Answers when it is told to, in turn. */
class Held {
  asked: { wish: Wish; answer(value: unknown): void }[] = [];
  ended = 0;
  left = 0;
  tryOut = (_drawing: object, asked: Wish) =>
    new Promise<never>((answer) => void this.asked.push({ wish: asked, answer: answer as (value: unknown) => void }));
  end = async () => {
    this.ended += 1;
    return { ok: true as const, value: { ended: true }, status: 200 };
  };
  endAsPageGoes = () => void (this.left += 1);
}
const done = { ok: true, value: tryout, status: 200 };
const settled = () => new Promise((later) => setTimeout(later, 0));

test('one after the other is tried; a newer one takes their place, and what they answer then counts for nothing', async () => {
  const held = new Held();
  const desk = new TryoutDesk(() => {}, held);
  const [a, b] = [{}, {}];
  void desk.start(a, [wish, { ...wish, carts: 3 }]);
  held.asked[0]!.answer(done);
  await settled();
  assert.deepEqual([desk.running?.which, desk.running?.of, desk.tried.length], [2, 2, 1]);
  void desk.start(b, [wish]);
  held.asked[1]!.answer(done);
  await settled();
  assert.equal(desk.tried.length, 1, 'what was replaced counts for nothing');
  assert.equal(desk.running?.of, 1);
  held.asked[2]!.answer({ ok: false, text: 'It stays live with one.', answered: true, status: 422, setup: false });
  await settled();
  assert.equal(desk.trouble, 'It stays live with one.');
  assert.equal(desk.running, null);
  assert.equal(desk.shown?.drawing, a, 'what was there is still shown');
});

test('it is ended, and as the page goes only what runs', async () => {
  const held = new Held();
  const desk = new TryoutDesk(() => {}, held);
  desk.leave();
  assert.equal(held.left, 0);
  void desk.start({}, [wish]);
  desk.leave();
  assert.equal(held.left, 1);
  await desk.end();
  assert.equal(held.ended, 1);
  held.asked[0]!.answer({ ok: false, text: 'ended', answered: true, status: 409, setup: false });
  await settled();
  assert.deepEqual([desk.running, desk.trouble, desk.tried.length], [null, '', 0]);
});

test('a drawing keeps its letter, a wish its row, and one more cart is told by what it brought', async () => {
  const desk = new TryoutDesk(() => {}, { ...new Held(), tryOut: async (_: object, w: Wish) => ({ ok: true as const, status: 200, value: { ...tryout, report: { ...report, deliveries_per_hour: 10 * w.carts - w.carts ** 2 } } }) });
  const [a, b] = [{}, {}];
  await desk.start(a, [{ ...wish, carts: 1 }, wish]);
  await desk.start(b, [wish]);
  await desk.start(a, [wish]);
  assert.deepEqual(desk.tried.map((one: Tried) => [one.letter, one.wish.carts]), [['A', 2], ['B', 2], ['A', 1]]);
  assert.equal(gain(desk.tried[0]!, desk.tried), 7);
  assert.equal(gain(desk.tried[1]!, desk.tried), null, 'another drawing');
  assert.deepEqual([gainWords(7), gainWords(-1.26), gainWords(null)], ['+7.0', '−1.3', '']);
  for (let seed = 10; seed < 30; seed += 1) await desk.start(a, [{ ...wish, seed }]);
  assert.equal(desk.tried.length, 12, 'the latest are kept');
});
