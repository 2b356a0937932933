// A survey without a page: reads to a way, times to distances, and the way as points and segments.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { FloorFile, Place } from '../src/draw/file.ts';
import { find, lineOf } from '../src/draw/file.ts';
import { movePoint, set } from '../src/draw/edits.ts';
import { lengthOf, lineOf as measured } from '../src/floor/geometry.ts';
import { accept, creep, nothingMade, pointOfTag, type Made, type Wishes } from '../src/survey/accept.ts';
import { distancesOf, paceOf } from '../src/survey/distances.ts';
import { bow, close, reckon, type Turn } from '../src/survey/lay_out.ts';
import { mayMiss, walkOf, type Said, type SurveyRead } from '../src/survey/walk.ts';

const empty: FloorFile = { format: 'tagline-floor/1', name: 'Pottery works', cart: { length: 600, width: 400, speed: 400 }, points: [], segments: [], stations: [] };
const said: Said = { same: new Set(), leftOut: new Set() };
const nowhere = () => undefined;

/** Tags with the time from the one before, s. */
function reads(...ways: [tag: string, seconds: number, more?: Partial<SurveyRead>][]): SurveyRead[] {
  let at = 0;
  return ways.map(([tag, seconds, more], k) => ({ number: k + 1, tag, at_ms: (at += seconds * 1_000), stood_ms: 0, late: false, ...more }));
}

function surveyed(file: FloorFile, read: SurveyRead[], more: { turns?: [number, Turn][]; side?: 'left' | 'right'; made?: Made; said?: Said; set?: [number, number][] } = {}) {
  const walk = walkOf(read, more.said ?? said, (tag) => pointOfTag(file, tag)?.id);
  const known = walk.legs.map((leg) => ({ set: new Map(more.set ?? []).get(leg.to.number) }));
  const distances = distancesOf(walk.legs, known, paceOf(walk.legs, known, 400), false);
  const wishes: Wishes = { turns: new Map(more.turns ?? []), side: more.side ?? 'left' };
  return { walk, distances, ...accept(file, walk, distances, wishes, more.made ?? nothingMade) };
}

const shape = (file: FloorFile) => file.segments.map((s) => `${s.from}-${s.to}${s.spur ? ' spur' : ''}${s.two_way ? ' both' : ''}`);
const drawnLength = (file: FloorFile, id: string) => lengthOf(measured(lineOf(file, find(file, 'segment', id)!)!));
const near = (a: number, b: number, by: number, what = '') => assert.ok(Math.abs(a - b) <= by, `${what} ${a} and ${b} differ by more than ${by}`);

test('tags come in order; the same one again is one place, and its way begins with the last time', () => {
  const { visits, legs } = walkOf(reads(['A', 1], ['A', 4], ['B', 5], ['C', 10]), said, nowhere);
  assert.deepEqual(visits.map((v) => v.tags), [['A'], ['B'], ['C']]);
  assert.deepEqual(legs.map((leg) => leg.ms), [5_000, 10_000]);
});

test('two tags of a known point, or called that, are one place; what is left out is not there', () => {
  const two = walkOf(reads(['A', 1], ['B', 0.2], ['C', 5]), said, (tag) => (tag === 'C' ? undefined : 'P1'));
  assert.deepEqual(two.visits.map((v) => v.tags), [['A', 'B'], ['C']]);
  near(two.legs[0]!.ms!, 5_200, 0, 'from the first of them');
  const called = walkOf(reads(['A', 1], ['B', 0.2], ['C', 5]), { ...said, same: new Set([2]) }, nowhere);
  assert.deepEqual(called.visits.map((v) => v.tags), [['A', 'B'], ['C']]);
  const less = walkOf(reads(['A', 1], ['B', 2, { stood_ms: 500 }], ['C', 5]), { ...said, leftOut: new Set([2]) }, nowhere);
  assert.deepEqual([less.visits.length, less.legs[0]!.ms, less.legs[0]!.doubt], [2, 6_500, 'stood']);
});

test('reads that waited for the link have no time, nor has the leg after them', () => {
  const { legs } = walkOf(reads(['A', 1], ['B', 5], ['C', 30, { late: true }], ['D', 0.05, { late: true }], ['E', 2], ['F', 5]), said, nowhere);
  assert.deepEqual(legs.map((leg) => leg.ms), [5_000, null, null, null, 5_000]);
  assert.equal(mayMiss(reads(...Array.from({ length: 12 }, (_, k): [string, number, object] => [`T${k}`, 1, { late: true }]))), true);
  assert.equal(mayMiss(reads(...Array.from({ length: 11 }, (_, k): [string, number, object] => [`T${k}`, 1, { late: true }]))), false);
});

test('distances: by the floor file’s speed, or by what is known; each says how good it is', () => {
  const { legs } = walkOf(reads(['A', 0], ['B', 5], ['C', 10], ['D', 5]), said, nowhere);
  const plain = distancesOf(legs, [], paceOf(legs, [], 400), false);
  assert.deepEqual(plain.map((d) => d.mm), [2_000, 4_000, 2_000]);
  assert.deepEqual(plain.map((d) => d.error), [580, 1_080, 580], 'a quarter, and 0.2 s');
  const known = [{ set: 2_400 }];
  const pace = paceOf(legs, known, 400);
  assert.deepEqual([pace.speed, pace.legs], [480, 1]);
  const better = distancesOf(legs, known, pace, false);
  assert.deepEqual(better.map((d) => d.mm), [2_400, 4_800, 2_400]);
  assert.deepEqual(better.map((d) => Math.round(d.error)), [0, 576, 336], 'a tenth, and 0.2 s');
  assert.deepEqual(better.map((d) => d.how), ['set', 'timed', 'timed']);
  const uneven = paceOf(legs, [{ drawn: 2_000 }, { drawn: 6_000 }], 400);
  near(uneven.share, 0.25, 0.001, 'what was measured differs by as much: ');
});

test('a stop in between is noticed, and marked as a guess', () => {
  const { legs } = walkOf(reads(['A', 0], ['B', 5], ['C', 5], ['D', 60], ['E', 5], ['F', 0.1], ['G', 9, { stood_ms: 4_000 }]), said, nowhere);
  const pace = paceOf(legs, [], 400);
  const blind = distancesOf(legs, [], pace, false);
  assert.deepEqual(blind.map((d) => d.how), ['timed', 'timed', 'guess', 'timed', 'guess', 'guess']);
  assert.deepEqual(blind.map((d) => d.doubt), ['', '', 'long', '', 'quick', 'stood']);
  assert.equal(blind[2]!.mm, 2_000, 'like the others');
  assert.equal(blind[5]!.mm, 2_000, 'without the time it stood');
  assert.equal(distancesOf(legs, [], pace, true)[2]!.mm, 24_000, 'a cart that tells when it stands did not');
});

test('a line of unknown tags: points in a row, names of their own, lengths that carts creep along', () => {
  const { file, points, distances } = surveyed(empty, reads(['0A', 0], ['0B', 5], ['0C', 10]));
  assert.deepEqual(points, ['P1', 'P2', 'P3']);
  assert.deepEqual(file.points.map((p) => [p.x, p.y, ...p.tags!]), [[0, 0, '0A'], [2_000, 0, '0B'], [6_000, 0, '0C']]);
  assert.deepEqual(file.segments, [
    { id: 'S1', from: 'P1', to: 'P2', length: distances[0]!.mm, speed: creep },
    { id: 'S2', from: 'P2', to: 'P3', length: distances[1]!.mm, speed: creep },
  ]);
  const measured1 = surveyed(empty, reads(['0A', 0], ['0B', 5]), { set: [[2, 2_350]] });
  assert.deepEqual(measured1.file.segments, [{ id: 'S1', from: 'P1', to: 'P2', length: 2_350 }], 'measured: no creeping');
});

const loop = reads(['0A', 0], ['0B', 5], ['0C', 10], ['0D', 5], ['0A', 10]);

test('reading the first tag again closes the loop, as a ring of the right lengths', () => {
  const { file, notes, distances } = surveyed(empty, loop);
  assert.deepEqual(shape(file), ['P1-P2', 'P2-P3', 'P3-P4', 'P4-P1']);
  assert.ok(notes.some((note) => /S4 closes the way at P1/.test(note)), notes.join());
  file.segments.forEach((s, k) => {
    assert.equal(s.length, distances[k]!.mm);
    near(drawnLength(file, s.id), s.length!, s.length! * 0.01, `${s.id} as drawn`);
  });
  const [a, , c] = file.points;
  assert.ok(c!.y > a!.y, 'it turns left');
  assert.ok(surveyed(empty, loop, { side: 'right' }).file.points[2]!.y < a!.y, 'or right');
  assert.deepEqual(shape(surveyed(empty, [...loop, ...reads(['0B', 0], ['0C', 1]).map((r, k) => ({ ...r, number: 6 + k, at_ms: 40_000 + k * 9_000 }))]).file), shape(file), 'a second lap makes nothing new');
});

test('with the turns told it is reckoned along and closed', () => {
  const turns: [number, Turn][] = [[2, 'left'], [3, 'left'], [4, 'left'], [5, 'left']];
  const places = (by: readonly SurveyRead[]) => surveyed(empty, [...by], { turns }).file.points.map((p) => [p.x, p.y] as Place);
  // Corners half way, cut by curves: 0.616 of a leg on either side of each corner.
  assert.deepEqual(places(loop), [[0, 0], [1_232, 1_232], [-1_232, 3_696], [-2_464, 2_464]]);
  const late = loop.map((read) => (read.number === 5 ? { ...read, at_ms: read.at_ms + 1_000 } : read));
  places(late).forEach(([x, y], k) => near(Math.hypot(x - places(loop)[k]![0], y - places(loop)[k]![1]), 0, 400, 'shared out'));
  assert.notDeepEqual(places(late)[3], places(loop)[3], 'shared out');
  assert.equal(find(surveyed(empty, [...loop], { turns }).file, 'segment', 'S2')!.via!.length, 7);
});

test('a dead end: in and out the way it went in; the main way goes on', () => {
  const { file, notes } = surveyed(empty, reads(['0A', 0], ['0B', 5], ['0E', 5], ['0B', 6], ['0C', 10], ['0A', 10]));
  assert.deepEqual(shape(file), ['P1-P2', 'P2-P3 spur', 'P2-P4', 'P4-P1']);
  assert.ok(notes.some((note) => /S2 is taken for a dead end/.test(note)));
  const deep = surveyed(empty, reads(['0A', 0], ['0B', 5], ['0C', 5], ['0B', 6], ['0A', 6]));
  assert.deepEqual(shape(deep.file), ['P1-P2 spur', 'P2-P3 spur']);
});

test('tape that is driven the other way later on is driven both ways', () => {
  const { file } = surveyed(empty, reads(['0A', 0], ['0B', 5], ['0C', 5], ['0D', 5], ['0B', 5], ['0A', 5]));
  assert.deepEqual(shape(file), ['P1-P2 both', 'P2-P3', 'P3-P4', 'P4-P2']);
});

test('a known point is joined: the tape parts there and comes together, and nothing of it moves', () => {
  const { file: before } = surveyed(empty, loop);
  const { file, points, notes } = surveyed(before, reads(['0B', 0], ['0F', 8], ['0D', 8]));
  assert.deepEqual(points, ['P2', 'P5', 'P4']);
  assert.deepEqual(shape(file).slice(4), ['P2-P5', 'P5-P4']);
  assert.deepEqual(file.points.slice(0, 4), before.points);
  assert.deepEqual(file.segments.slice(0, 4), before.segments);
  assert.ok(notes.some((note) => /parts at P2/.test(note)) && notes.some((note) => /come together at P4/.test(note)), notes.join());
  near(drawnLength(file, 'S5') + drawnLength(file, 'S6'), 6_400, 100);
});

test('a way back to a place that is no loop’s first one', () => {
  const { file } = surveyed(empty, reads(['0A', 0], ['0B', 5], ['0C', 5], ['0D', 5], ['0B', 5]));
  assert.deepEqual(shape(file), ['P1-P2', 'P2-P3', 'P3-P4', 'P4-P2']);
  assert.deepEqual(file.points.slice(0, 2).map((p) => [p.x, p.y]), [[0, 0], [2_000, 0]]);
  assert.ok(file.points[2]!.y > 500 && file.points[3]!.y > 500, 'the rest is a ring at its second point');
});

test('a new way goes on as the tape before it does, or off to a side where tape goes on already', () => {
  const north: FloorFile = { ...empty, points: [{ id: 'P1', x: 0, y: 0, tags: ['0A'] }, { id: 'P2', x: 0, y: 2_000, tags: ['0B'] }], segments: [{ id: 'S1', from: 'P1', to: 'P2' }] };
  assert.deepEqual(surveyed(north, reads(['0B', 0], ['0C', 5])).file.points[2], { id: 'P3', x: 0, y: 4_000, tags: ['0C'] });
  const off = surveyed(north, reads(['0A', 0], ['0C', 5])).file.points[2]!;
  assert.ok(off.x > 1_000 && off.y < 1_500, `P1 has tape to the north: ${off.x} ${off.y}`);
  const elsewhere = surveyed(north, reads(['0X', 0], ['0Y', 5])).file.points.slice(2);
  assert.deepEqual(elsewhere.map((p) => [p.x, p.y]), [[0, -2_000], [2_000, -2_000]], 'below what is there');
});

test('tape that is there stays as it is, however long it took; a further tag of a point is added to it', () => {
  const there: FloorFile = { ...empty, points: [{ id: 'P1', x: 0, y: 0, tags: ['0A'] }, { id: 'P2', x: 2_000, y: 0, tags: ['0B'] }], segments: [{ id: 'S1', from: 'P1', to: 'P2', length: 2_100 }] };
  const { file } = surveyed(there, reads(['0A', 0], ['0B', 9], ['0S', 1]), { said: { ...said, same: new Set([3]) } });
  assert.deepEqual(file, { ...there, points: [there.points[0], { ...there.points[1], tags: ['0B', '0S'] }] });
});

test('accepting again: more is added, what is untouched is drawn anew, what somebody moved stays', () => {
  const first = surveyed(empty, loop.slice(0, 3));
  const same = surveyed(first.file, loop.slice(0, 3), { made: first.made });
  assert.equal(same.file, first.file, 'nothing new is no step');
  const closed = surveyed(first.file, loop, { made: first.made });
  assert.deepEqual(shape(closed.file), ['P1-P2', 'P2-P3', 'P3-P4', 'P4-P1']);
  assert.ok(closed.file.points[2]!.y > 0, 'the straight line has become a ring');
  const moved = movePoint(first.file, 'P2', [2_500, 300]);
  const after = surveyed(moved, loop, { made: first.made });
  assert.deepEqual(after.file.points.slice(0, 3), moved.points);
  const tied: FloorFile = { ...first.file, segments: [...first.file.segments, { id: 'S9', from: 'P3', to: 'P1', via: [[3_000, 900]] }] };
  assert.deepEqual(surveyed(tied, loop, { made: first.made }).file.points.slice(0, 3), tied.points, 'tape laid by hand holds its points');
  const named = set(first.file, 'point', 'P2', 'siding', true);
  assert.ok(surveyed(named, loop, { made: first.made }).file.points[1]!.siding);
});

test('a way that is driven shorter than its ends lie apart is as long as drawn, and says so', () => {
  const apart: FloorFile = { ...empty, points: [{ id: 'P1', x: 0, y: 0, tags: ['0A'] }, { id: 'P2', x: 5_000, y: 0, tags: ['0B'] }] };
  const { file, notes } = surveyed(apart, reads(['0A', 0], ['0B', 5]));
  assert.deepEqual(file.segments, [{ id: 'S1', from: 'P1', to: 'P2', speed: creep }]);
  assert.match(notes.join(), /S1 is drawn longer/);
});

test('shapes: straight on, a closed traverse, a bow of the length asked for', () => {
  const two = [{ mm: 1_000, turn: undefined }, { mm: 3_000, turn: undefined }];
  assert.deepEqual(reckon([0, 0], 0, two).map((d) => d.at), [[1_000, 0], [4_000, 0]]);
  assert.deepEqual(close([0, 0], 0, two, [4_400, 800]).map((d) => d.at), [[1_100, 200], [4_400, 800]], 'by the compass rule');
  assert.deepEqual(bow([0, 0], 0, two, [8_000, 0], 'left'), [{ at: [2_000, 0], via: [] }, { at: [8_000, 0], via: [] }], 'no bow can be shorter');
  for (const side of ['left', 'right'] as const) {
    const way = bow([0, 0], 0, two, [2_000, 0], side);
    assert.deepEqual(way.at(-1)!.at, [2_000, 0]);
    const line: Place[] = [[0, 0], ...way.flatMap((d) => [...d.via, d.at])];
    near(lengthOf(measured(line)), 4_000, 30, side);
    assert.ok(Math.sign(way[0]!.at[1]) === (side === 'left' ? -1 : 1), 'turning left it bows out to the right');
  }
  const bent = reckon([0, 0], 0, [{ mm: 2_000, turn: 'left' }]);
  near(lengthOf(measured([[0, 0], ...bent[0]!.via, bent[0]!.at])), 2_000, 20, 'a corner');
});
