// The live link: resume, missing changes, dead links; and the service's clock.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Result } from '../src/api/client.ts';
import type { Cart, CartChange, Job, LiveMessage, Me } from '../src/api/types.ts';
import { Who } from '../src/door/who.ts';
import { ServiceClock } from '../src/live/clock.ts';
import { LiveLink, silenceLimit, type LinkState, type LinkWorld, type Socket } from '../src/live/link.ts';
import { apply, nothingKnown, sortedJobs, type BoardState } from '../src/live/state.ts';

const time = '2026-01-01T08:00:00.000Z';
const job = (id: number, more: Partial<Job> = {}): Job => ({
  id, from: 'A', to: 'B', state: 'queued', priority: 5, note: '', cart: null, created: time,
  changed: time, loaded_at: null, ended_at: null,
  expected_pickup: null, expected_delivery: null, reason: '', via: [], stops_done: 0, due: null, why: [], ...more,
});
const snapshot = (rev: number, run = 'r1'): LiveMessage => ({
  type: 'snapshot', run, rev, time, pace: 1, all_stopped: false, carts: [], jobs: [job(1)],
  stations: [{ id: 'A', name: 'Aside', point: 'P1', capacity: 3, loads: 0 }], alarms: [],
});
const change = (rev: number, jobs: Job[] = []): LiveMessage => ({ type: 'change', rev, time, jobs });

test('loads that stand at stations change by themselves', () => {
  const dry = { id: 'B', name: 'Drying', point: 'P2', capacity: 3, loads: 2 };
  const state = applied(nothingKnown, snapshot(1), { type: 'change', rev: 2, time, stations: [dry] });
  assert.deepEqual([...state.stations.keys()], ['A', 'B']);
  const later = applied(state, { type: 'change', rev: 3, time, stations: [{ ...dry, loads: 3 }] }, change(4));
  assert.equal(later.stations.get('B')?.loads, 3);
  assert.equal(later.stations.get('A')?.loads, 0);
  assert.equal(applied(later, { ...snapshot(9, 'r2'), stations: [] } as LiveMessage).stations.size, 0);
});

function applied(state: BoardState, ...messages: LiveMessage[]): BoardState {
  for (const message of messages) {
    const result = apply(state, message);
    assert.ok(result.ok);
    state = result.state;
  }
  return state;
}

test('changes are laid over the snapshot', () => {
  const state = applied(nothingKnown, snapshot(4), change(5, [job(1, { state: 'assigned' }), job(2)]));
  assert.equal(state.rev, 5);
  assert.equal(state.jobs.get(1)?.state, 'assigned');
  assert.equal(state.jobs.size, 2);
});

test('of a cart only what differs is told; steps it has passed are dropped from its path', () => {
  const step = (n: number) => ({ step: n, point: `P${n}`, segment: `S${n}`, reversed: false, back: false, turn: false, act: 'go' as const });
  const cart: Cart = {
    id: 'cart-1', mode: 'driving', connected: true, loaded: false, battery: 80, fault: 'none', trouble: '', job: null, trip: 1,
    path: [step(4), step(5), step(6)], authority: 2, passed_at: time, holds: ['P4'], waits_for: null, why: [],
  };
  const seen = applied(nothingKnown, { ...snapshot(1), carts: [cart] } as LiveMessage);
  const told = (rev: number, more: Partial<CartChange>): LiveMessage => ({ type: 'change', rev, time, carts: [{ id: 'cart-1', ...more }] });
  const passed = applied(seen, told(2, { path_from: 5, authority: 1 }));
  assert.deepEqual(passed.carts.get('cart-1'), { ...cart, path: [step(5), step(6)], authority: 1 });
  const ledOn = applied(passed, told(3, { path: [step(5), step(9)] }), told(4, { battery: 79 }));
  assert.deepEqual(ledOn.carts.get('cart-1'), { ...cart, path: [step(5), step(9)], authority: 1, battery: 79 });
  assert.deepEqual(seen.carts.get('cart-1'), cart, 'what was known before is as it was');
});

test('a change seen before is skipped, a missing one is noticed', () => {
  const state = applied(nothingKnown, snapshot(4), change(5, [job(2)]));
  assert.equal(applied(state, change(5, [job(3)])).jobs.has(3), false);
  assert.equal(apply(state, change(7)).ok, false);
});

test('resuming another run is refused', () => {
  const state = applied(nothingKnown, snapshot(4));
  assert.equal(apply(state, { type: 'resumed', run: 'r2', rev: 9, time }).ok, false);
  assert.equal(apply(state, { type: 'resumed', run: 'r1', rev: 9, time }).ok, true);
});

test('jobs: open ones by age, ended ones latest first, only so many kept', () => {
  const ended = Array.from({ length: 60 }, (_, i) =>
    job(100 + i, { state: 'delivered', ended_at: new Date(Date.parse(time) + i * 1_000).toISOString() }),
  );
  const older = job(3, { created: '2026-01-01T07:00:00.000Z' });
  const sorted = sortedJobs(applied(nothingKnown, snapshot(1), change(2, [...ended, older])));
  assert.deepEqual(sorted.open.map((j) => j.id), [3, 1]);
  assert.equal(sorted.ended.length, 50);
  assert.equal(sorted.ended[0]!.id, 159);
});

/** A world in which the test turns the clock and plays the service. */
class World implements LinkWorld {
  time = 1_000_000;
  opened: { query: string; socket: Socket; closed: boolean }[] = [];
  private timers: { at: number; what: () => void }[] = [];
  open(query: string): Socket {
    const entry = { query, closed: false, socket: {} as Socket };
    entry.socket = { onopen: null, onmessage: null, onclose: null, close: () => (entry.closed = true) };
    this.opened.push(entry);
    return entry.socket;
  }
  now = () => this.time;
  after(ms: number, what: () => void) {
    const timer = { at: this.time + ms, what };
    this.timers.push(timer);
    return () => void (this.timers = this.timers.filter((t) => t !== timer));
  }
  pass(ms: number): void {
    const end = this.time + ms;
    for (;;) {
      const next = this.timers.sort((a, b) => a.at - b.at)[0];
      if (!next || next.at > end) break;
      this.timers.shift();
      this.time = next.at;
      next.what();
    }
    this.time = end;
  }
  get last() {
    return this.opened[this.opened.length - 1]!;
  }
  say(message: LiveMessage) {
    this.last.socket.onmessage?.({ data: JSON.stringify(message) });
  }
}

function started() {
  const world = new World();
  const links: LinkState[] = [];
  let state = nothingKnown;
  const link = new LiveLink(world, { onLink: (l) => links.push(l), onState: (s) => (state = s) });
  link.start();
  return { world, links, link, state: () => state };
}

test('a dropped link comes back and resumes from the last revision', () => {
  const { world, links, state } = started();
  assert.equal(world.last.query, '');
  world.say(snapshot(41));
  world.say(change(42));
  assert.equal(links.at(-1)?.kind, 'live');
  world.last.socket.onclose?.();
  assert.equal(links.at(-1)?.kind, 'lost');
  world.pass(2_000);
  assert.equal(world.opened.length, 2);
  assert.equal(world.last.query, '?run=r1&since=42');
  world.say({ type: 'resumed', run: 'r1', rev: 44, time });
  world.say(change(43, [job(8)]));
  world.say(change(44, [job(9)]));
  assert.equal(links.at(-1)?.kind, 'live');
  assert.ok(state().jobs.has(8) && state().jobs.has(9));
});

test('each failed try is told, with the moment of the first loss', () => {
  const { world, links } = started();
  world.say(snapshot(1));
  world.last.socket.onclose?.();
  const lostAt = world.time;
  for (let tries = 2; tries <= 4; tries++) {
    const before = world.opened.length;
    while (world.opened.length === before) world.pass(50);
    world.last.socket.onclose?.();
    assert.deepEqual(links.slice(1), Array(tries).fill({ kind: 'lost', since: lostAt }));
  }
  const tries = world.opened.length;
  while (world.opened.length === tries) world.pass(50);
  world.say({ type: 'resumed', run: 'r1', rev: 1, time });
  world.last.socket.onclose?.();
  assert.deepEqual(links.at(-1), { kind: 'lost', since: world.time }, 'another loss');
});

const me: Me = { name: 'Olu', role: 'operator', csrf: 'c', demo: false };
const silence: Result<Me> = { ok: false, answered: false, status: 0, text: '', setup: false };

test('who is signed in is asked until it is known, and no faster than the pauses', async () => {
  const world = new World();
  const answers: Result<Me>[] = [silence, silence, silence, { ok: true, value: me, status: 200 }];
  const askedAt: number[] = [];
  const heard: string[] = [];
  const who = new Who({
    me: async () => (askedAt.push(world.time), answers.shift()!),
    after: (ms, what) => void world.after(ms, what),
    known: ({ name }) => heard.push(name),
    nobody: () => heard.push('nobody'),
  });
  const begun = world.time;
  const minute = async () => {
    for (let s = 0; s < 60; s++) {
      await new Promise((done) => setImmediate(done)); // the answer is heard
      world.pass(1_000);
    }
  };
  who.askUnlessAsking();
  who.askUnlessAsking(); // the first is not answered yet
  assert.equal(askedAt.length, 1);
  await minute();
  assert.deepEqual(askedAt.map((at) => at - begun), [0, 3_000, 9_000, 21_000]);
  assert.deepEqual(heard, ['Olu']);
  answers.push(silence);
  who.askUnlessAsking();
  await minute();
  assert.equal(askedAt.length, 5, 'what was known is not asked again by itself');
  answers.push({ ...silence, status: 401 } as Result<Me>);
  who.askUnlessAsking();
  await minute();
  assert.deepEqual(heard, ['Olu', 'nobody']);
  assert.equal(askedAt.length, 6, 'a 401 is an answer');
});

test('a missing change asks for a snapshot', () => {
  const { world } = started();
  world.say(snapshot(1));
  world.say(change(3));
  assert.equal(world.last.closed, true);
  world.pass(2_000);
  assert.equal(world.last.query, '');
});

test('silence for 15 s is a dead link; time messages keep it alive', () => {
  const { world, links } = started();
  world.say(snapshot(1));
  for (let i = 0; i < 10; i++) {
    world.pass(5_000);
    world.say({ type: 'time', time });
  }
  assert.equal(links.at(-1)?.kind, 'live');
  world.pass(silenceLimit + 2_000);
  assert.equal(links.at(-1)?.kind, 'lost');
});

test('pauses grow while the service is away, and are short again afterwards', () => {
  const { world } = started();
  const waits: number[] = [];
  for (let i = 0; i < 7; i++) {
    const before = world.time;
    const count = world.opened.length;
    world.last.socket.onclose?.();
    while (world.opened.length === count) world.pass(50);
    waits.push(world.time - before);
  }
  assert.ok(waits[0]! <= 700, `first pause ${waits[0]}`);
  assert.ok(waits[6]! > 7_000 && waits[6]! < 13_000, `last pause ${waits[6]}`);
  world.say(snapshot(1));
  const before = world.opened.length;
  world.last.socket.onclose?.();
  world.pass(800);
  assert.equal(world.opened.length, before + 1);
});

test('waking notices a link that died while the phone slept', () => {
  const { world, link, links } = started();
  world.say(snapshot(1));
  world.time += 60_000; // timers slept
  link.wake();
  assert.equal(links.at(-1)?.kind, 'lost');
  link.wake();
  assert.equal(world.opened.length, 2);
});

test('the clock runs at the pace and is never slowed by a late message', () => {
  const clock = new ServiceClock(20);
  assert.equal(clock.now(5), 0);
  clock.hear(1_000_000, 100);
  assert.equal(clock.now(200), 1_000_000 + 2_000);
  clock.hear(1_001_500, 200); // came 25 ms late
  assert.ok(Math.abs(clock.now(200) - 1_002_000) < 50);
  clock.hear(1_003_000, 200); // came sooner than any before
  assert.equal(clock.now(200), 1_003_000);
  clock.hear(500_000, 300); // set back: believed
  assert.equal(clock.now(300), 500_000);
});
