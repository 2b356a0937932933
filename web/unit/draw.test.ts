// The drawing of a floor without a page: edits as values, undo, snapping, the window, the picture.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { add, addVia, movePoint, newId, remove, rename, rounded, set, setVia } from '../src/draw/edits.ts';
import { extent, find, fromText, fromValue, lineOf, thingAt, toText, type FloorFile } from '../src/draw/file.ts';
import { firstLaid, scaled } from '../src/draw/picture.ts';
import { snap } from '../src/draw/snap.ts';
import { back, begin, did, forth, pause } from '../src/draw/undo.ts';
import { barLength, fit, pan, resized, toMm, toPx, zoom } from '../src/draw/window.ts';

const demoText = readFileSync('../deploy/demo.floor.json', 'utf8');

function demo(): FloorFile {
  const read = fromText(demoText);
  assert.ok(read.ok);
  return read.file;
}

const small: FloorFile = {
  format: 'tagline-floor/1',
  name: 'Small',
  cart: { length: 600, width: 400 },
  points: [{ id: 'P1', x: 0, y: 0, tags: ['04A1'] }, { id: 'P2', x: 2000, y: 0 }, { id: 'P3', x: 2000, y: 1500 }],
  segments: [{ id: 'S1', from: 'P1', to: 'P2', length: 1999 }, { id: 'S2', from: 'P2', to: 'P3', via: [[2100, 700]] }],
  stations: [{ id: 'A', name: 'Here', point: 'P1' }, { id: 'B', name: 'There', point: 'P3' }],
  chargers: [{ id: 'C1', point: 'P2' }],
  zones: [{ id: 'Z', name: 'Zone', segments: ['S1', 'S2'] }],
  conflicts: [['S1', 'S2']],
  demand: [{ from: 'A', to: 'B', per_hour: 3 }],
};

test('a floor file comes through reading and writing unchanged, with what this page does not know', () => {
  assert.deepEqual(JSON.parse(toText(demo())), JSON.parse(demoText));
  const odd = { ...small, segments: [], later: { than: 'this page' }, points: [{ id: 'P1', x: 0.5, y: 0, colour: 'red' }] };
  const read = fromValue(odd);
  assert.ok(read.ok);
  const moved = movePoint(read.file, 'P1', [7, 8]);
  assert.deepEqual(JSON.parse(toText(moved)), { ...odd, points: [{ id: 'P1', x: 7, y: 8, colour: 'red' }] });
  assert.deepEqual(odd.points[0], { id: 'P1', x: 0.5, y: 0, colour: 'red' }, 'what was there stays as it was');
});

test('what is no floor file says so and is refused whole', () => {
  const refused = (text: string) => {
    const read = fromText(text);
    assert.equal(read.ok, false, text);
    return read.ok ? '' : read.text;
  };
  assert.match(refused('{'), /not JSON/);
  assert.match(refused('[]'), /not a JSON object/);
  assert.match(refused('{"format":"other/1"}'), /format/);
  assert.match(refused('{"format":"tagline-floor/1"}'), /points/);
  assert.match(refused('{"format":"tagline-floor/1","points":[{"id":"P1","x":"0","y":1}]}'), /x and a y/);
  assert.match(refused('{"format":"tagline-floor/1","points":[],"segments":[{"from":"P1"}]}'), /id/);
  assert.match(refused('{"format":"tagline-floor/1","points":[],"segments":[{"id":"S1","via":[[1]]}]}'), /via/);
});

test('a point that moves takes the measured lengths at it away, and nothing else', () => {
  const moved = movePoint(small, 'P2', [1900, 50]);
  assert.deepEqual(find(moved, 'point', 'P2'), { id: 'P2', x: 1900, y: 50 });
  assert.deepEqual(find(moved, 'segment', 'S1'), { id: 'S1', from: 'P1', to: 'P2' });
  assert.equal(find(moved, 'segment', 'S2'), find(small, 'segment', 'S2'));
  assert.equal(movePoint(small, 'P2', [2000, 0]), small, 'no step where nothing moved');
});

test('a new id follows the highest there is', () => {
  assert.equal(newId(small, 'point'), 'P4');
  assert.equal(newId(small, 'charger'), 'C2');
  assert.equal(newId({ ...small, points: [{ id: 'PX', x: 0, y: 0 }] }, 'point'), 'P1');
  assert.equal(newId(small, 'station'), 'STATION1');
});

test('renaming follows everywhere', () => {
  const point = rename(small, 'point', 'P1', 'DOCK');
  assert.equal(find(point, 'segment', 'S1')?.from, 'DOCK');
  assert.equal(find(point, 'station', 'A')?.point, 'DOCK');
  assert.equal(rename(small, 'point', 'P2', 'Q').chargers?.[0]?.point, 'Q');
  const segment = rename(small, 'segment', 'S1', 'T');
  assert.deepEqual(segment.conflicts, [['T', 'S2']]);
  assert.deepEqual(segment.zones?.[0]?.segments, ['T', 'S2']);
  assert.deepEqual(rename(small, 'station', 'B', 'N').demand, [{ from: 'A', to: 'N', per_hour: 3 }]);
  assert.equal(JSON.stringify(rename(rename(small, 'point', 'P1', 'X'), 'point', 'X', 'P1')), JSON.stringify(small));
});

test('removing takes along what cannot be without it', () => {
  const less = remove(small, 'point', 'P1');
  assert.deepEqual(less.points.map((p) => p.id), ['P2', 'P3']);
  assert.deepEqual(less.segments.map((s) => s.id), ['S2']);
  assert.deepEqual(less.stations.map((s) => s.id), ['B']);
  assert.deepEqual(less.demand, []);
  assert.deepEqual(less.conflicts, []);
  assert.deepEqual(less.zones?.[0]?.segments, ['S2']);
  assert.deepEqual(remove(small, 'point', 'P2').chargers, []);
  assert.deepEqual(remove(small, 'charger', 'C1').points, small.points);
});

test('keys are set and taken away, and lists grow at their end', () => {
  assert.deepEqual(find(set(small, 'point', 'P1', 'siding', true), 'point', 'P1'), { id: 'P1', x: 0, y: 0, tags: ['04A1'], siding: true });
  assert.deepEqual(find(set(small, 'segment', 'S1', 'length', undefined), 'segment', 'S1'), { id: 'S1', from: 'P1', to: 'P2' });
  const more = add({ ...small, chargers: undefined } as never, 'charger', { id: 'C9', point: 'P3' });
  assert.deepEqual(more.chargers, [{ id: 'C9', point: 'P3' }]);
});

test('corners: added where the line is nearest, and rounded into a curve', () => {
  const line = lineOf(small, find(small, 'segment', 'S2')!)!;
  assert.deepEqual(line, [[2000, 0], [2100, 700], [2000, 1500]]);
  const { file, index } = addVia(small, 'S2', [2050, 1100], line);
  assert.equal(index, 1);
  assert.deepEqual(find(file, 'segment', 'S2')?.via, [[2100, 700], [2050, 1100]]);
  assert.equal(addVia(small, 'S2', [2050, 300], line).index, 0);
  assert.equal(find(setVia(small, 'S2', []), 'segment', 'S2')?.via, undefined);
  const curve = rounded([0, 0], [1000, 0], [1000, 1000]);
  assert.equal(curve.length, 7);
  assert.deepEqual(curve[3], [750, 250], 'half way: a quarter, a half, a quarter');
  const direction = Math.atan2(curve[0]![1], curve[0]![0]);
  assert.ok(direction < 0.15, `it leaves towards the corner, but at ${direction}`);
});

test('undo goes back and forth; steps of one name are one', () => {
  let undo = begin(1);
  undo = did(undo, 2);
  undo = did(undo, 3, 'drag P1');
  undo = did(undo, 4, 'drag P1');
  assert.deepEqual([undo.now, undo.past], [4, [1, 2]]);
  undo = did(pause(undo), 5, 'drag P1');
  undo = back(undo);
  assert.equal(undo.now, 4);
  undo = back(back(back(undo)));
  assert.equal(undo.now, 1, 'there is nothing before the beginning');
  undo = forth(forth(undo));
  assert.equal(undo.now, 4);
  assert.equal(did(undo, 9).future.length, 0, 'another way is taken: nothing to go forth to');
  assert.equal(did(undo, 4), undo, 'the same again is no step');
});

test('places go to a point’s line nearby, else to the grid', () => {
  assert.deepEqual(snap(small, [1038, 961], 50, 30), { at: [1050, 950] });
  assert.deepEqual(snap(small, [1980, 961], 50, 30), { at: [2000, 950], alignedX: 'P2' });
  const both = snap(small, [1990, 1490], 50, 30, 'P3');
  assert.deepEqual(both, { at: [2000, 1500], alignedX: 'P2' }, 'itself does not draw');
  assert.deepEqual(snap(small, [1038.6, 961.2], 1, 0).at, [1039, 961]);
});

test('the window: mm to pixels and back, zoom keeps what is under the pointer', () => {
  const { low, high } = extent(demo());
  const w = fit(low, high, 900, 600);
  for (const corner of [low, high]) {
    const [x, y] = toPx(w, corner);
    assert.ok(x >= 59 && x <= 841 && y >= 59 && y <= 541, `${x} ${y}`);
  }
  assert.ok(toPx(w, [0, 100])[1] < toPx(w, [0, 0])[1], 'y is up on the floor');
  const at: [number, number] = [700, 100];
  const near = zoom(w, 3, at);
  const before = toMm(w, at);
  const after = toMm(near, at);
  assert.ok(Math.hypot(after[0] - before[0], after[1] - before[1]) < 1e-6);
  const [x] = toPx(pan(w, 50, 0), low);
  assert.ok(Math.abs(x - toPx(w, low)[0] - 50) < 1e-9);
  assert.ok([1, 2, 5].includes(Number(String(barLength(w))[0])));
  assert.ok(barLength(w) * w.scale <= 120);
});

test('the picture’s scale: two places and the length between them', () => {
  const laid = firstLaid(1000, 500);
  assert.deepEqual(laid, { at: [0, 5000], mmPerPx: 10, width: 1000, height: 500 });
  const bigger = scaled(laid, [1000, 1000], [3000, 1000], 4000)!;
  assert.equal(bigger.mmPerPx, 20);
  // The pixel under the first place: 100 right of the corner, 400 below it.
  assert.deepEqual([bigger.at[0] + 100 * 20, bigger.at[1] - 400 * 20], [1000, 1000]);
  assert.equal(scaled(laid, [1, 1], [1, 1], 100), null);
  assert.equal(scaled(laid, [1, 1], [2, 1], 0), null);
});

test('a pointer of the service’s leads to the thing it means', () => {
  assert.deepEqual(thingAt(small, '/segments/1/to'), { kind: 'segment', id: 'S2' });
  assert.deepEqual(thingAt(small, '/zones/0'), { kind: 'zone', id: 'Z' });
  assert.equal(thingAt(small, '/cart/speed'), null);
  assert.equal(thingAt(small, '/points/9'), null);
});

test('a sheet that becomes smaller still shows what was in sight; one that grows shows more', () => {
  const before = fit([0, 0], [10_000, 6_000], 800, 600);
  const after = resized(before, 800, 300);
  for (const corner of [[0, 0], [10_000, 6_000]] as const) {
    const [x, y] = toPx(after, [...corner]);
    assert.ok(x >= 0 && x <= 800 && y >= 0 && y <= 300, `${x} ${y}`);
  }
  assert.equal(resized(before, 900, 700).scale, before.scale);
});
