// What is offered for a chain of reasons, in which order, and what it says will come of it.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Cart, Job, Reason } from '../src/api/types.ts';
import { nothingKnown } from '../src/live/state.ts';
import { helpFor } from '../src/why/remedies.ts';

const cart = (id: string, more: Partial<Cart> = {}): Cart => ({
  id, mode: 'waiting', connected: true, loaded: false, battery: 80, fault: 'none', trouble: '', job: null, trip: 1,
  path: [], authority: 0, passed_at: '', holds: [], waits_for: null, why: [], ...more,
});
const world = (carts: Cart[], more = {}) => ({ ...nothingKnown, carts: new Map(carts.map((c) => [c.id, c])), ...more });
const link = (kind: string, more: Partial<Reason> = {}): Reason => ({ kind, text: kind, ...more });
const ids = (help: { remedies: { id: string }[] }) => help.remedies.map((r) => r.id);
const waits = { track: 'S1', cart: 'cart-1', for_turn: false, since: '' };

test('a cart in doubt: where it stands, or that its track is free again, and for whom', () => {
  const doubt = cart('cart-1', { mode: 'in_doubt', holds: ['P1', 'S1', 'P2'], job: 7, authority: 2 });
  const jobs = new Map([[7, { id: 7, state: 'loaded' } as Job]]);
  const help = helpFor(
    [link('held_track', { cart: 'cart-2', other: 'cart-1' }), link('in_doubt', { cart: 'cart-1' })],
    world([doubt, cart('cart-2', { waits_for: waits })], { jobs }), null,
  );
  assert.deepEqual(ids(help), ['place-cart-1', 'remove-cart-1']);
  const [place, remove] = help.remedies;
  assert.match(place!.follows, /may move at once.*P1, S1, P2/);
  assert.match(remove!.follows, /P1, S1, P2 are free, and Cart 2 may drive there at once\. Job 7 ends as stranded/);
  assert.equal(remove!.least, 'supervisor');
});

test('without a link nobody can place it, so that is not offered', () => {
  const help = helpFor([link('in_doubt', { cart: 'cart-1' })], world([cart('cart-1', { mode: 'in_doubt', connected: false })]), null);
  assert.deepEqual(ids(help), ['remove-cart-1']);
  assert.match(help.advice[0]!, /switch it on/);
});

test('whoever stands beside a cart can say that its load is on', () => {
  const loading = link('handling', { cart: 'cart-1', job: 7, station: 'DRY', what: 'load' });
  const there = cart('cart-1', { mode: 'handling', job: 7 });
  const [said] = helpFor([loading], world([there]), null).remedies;
  assert.deepEqual(said?.act, { kind: 'say_handled', job: 7, what: 'load' });
  assert.equal(said.least, 'operator');
  assert.match(said.follows, /Cart 1 drives off.*be clear/);
  assert.deepEqual(ids(helpFor([loading], world([{ ...there, connected: false }]), null)), [], 'it can not be told');
});

test('the root comes first, and a remedy only once', () => {
  const stopped = cart('cart-1', { mode: 'needs_release' });
  const chain = [link('needs_release', { cart: 'cart-1' }), link('all_stopped'), link('all_stopped')];
  const help = helpFor(chain, world([stopped], { allStopped: true }), null);
  assert.deepEqual(ids(help), ['release-all', 'release-cart-1', 'remove-cart-1']);
  assert.match(help.remedies[0]!.follows, /now: Cart 1/);
});

test('a cart stopped at the cart is released there and nowhere else', () => {
  const trouble = 'Stopped by its bumper. Release it at the cart.';
  const help = helpFor([link('needs_release', { cart: 'cart-1' })], world([cart('cart-1', { mode: 'needs_release', trouble })]), null);
  assert.deepEqual(ids(help), ['remove-cart-1']);
  assert.match(help.advice[0]!, /at the cart itself/);
});

test('a cart that may be driving is not taken off the floor', () => {
  const driving = cart('cart-1', { mode: 'driving', authority: 2, fault: 'blocked' });
  assert.deepEqual(ids(helpFor([link('fault', { cart: 'cart-1' })], world([driving]), null)), []);
  assert.deepEqual(ids(helpFor([link('fault', { cart: 'cart-1' })], world([driving], { allStopped: true }), null)), ['remove-cart-1']);
});

test('closed track, zones and full stations each have their remedy', () => {
  const downtimes = [
    { segment: 'S4', reason: '', from: '', until: null, begun: true, clear: true },
    { segment: 'S5', reason: '', from: '', until: null, begun: false, clear: true },
    { station: 'DRY', reason: '', from: '', until: null, begun: true, clear: true },
  ];
  const zones = [{ id: 'KILNS', name: 'Kilns', segments: [], stopped: true }];
  const here = world([cart('cart-1')], { downtimes, zones });
  const offered = (reason: Reason) => ids(helpFor([reason], here, null));
  assert.deepEqual(offered(link('out_of_service', { cart: 'cart-1', piece: 'S4' })), ['up-segment-S4']);
  assert.deepEqual(offered(link('out_of_service', { cart: 'cart-1', piece: 'S5' })), [], 'only planned');
  assert.deepEqual(offered(link('no_way', { station: 'DRY' })), ['up-segment-S4']);
  assert.deepEqual(offered(link('station_down', { station: 'DRY' })), ['up-station-DRY']);
  assert.deepEqual(offered(link('zone_stopped', { cart: 'cart-1', zone: 'KILNS' })), ['release-zone-KILNS']);
  assert.deepEqual(offered(link('station_full', { station: 'DRY' })), ['count-DRY']);
  assert.deepEqual(offered(link('driving', { cart: 'cart-1' })), []);
});
