// Zooming and moving the drawing: what is pointed at stays, the frame is always full, and signs keep
// their size while the floor grows.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Floor } from '../src/api/types.ts';
import { layoutOf } from '../src/floor/layout.ts';
import { mostZoom, moved, refitted, wheelFactor, wholeFloor, zoomed } from '../src/floor/sight.ts';

const frame = { width: 800, height: 500 };
const most = 10;

test('what is pointed at stays where it is', () => {
  const sight = zoomed(wholeFloor, 2, 200, 100, frame, most);
  assert.equal(sight.zoom, 2);
  // Place (200, 100) of the whole drawing is still at (200, 100).
  assert.deepEqual([200 * 2 + sight.x, 100 * 2 + sight.y], [200, 100]);
  const nearer = zoomed(sight, 1.5, 650, 400, frame, most);
  const place = [(650 - sight.x) / 2, (400 - sight.y) / 2] as const;
  assert.ok(Math.abs(place[0] * 3 + nearer.x - 650) < 1e-9);
  assert.ok(Math.abs(place[1] * 3 + nearer.y - 400) < 1e-9);
});

test('the frame is always full, and the zoom has its ends', () => {
  let sight = zoomed(wholeFloor, 1_000, 0, 0, frame, most);
  assert.equal(sight.zoom, most);
  sight = moved(sight, 500, 500, frame);
  assert.deepEqual([sight.x, sight.y], [0, 0]);
  sight = moved(sight, -1e6, -1e6, frame);
  assert.deepEqual([sight.x, sight.y], [800 * (1 - most), 500 * (1 - most)]);
  assert.deepEqual(zoomed(sight, 0.001, 400, 250, frame, most), wholeFloor);
  assert.deepEqual(zoomed(wholeFloor, 1.01, 400, 250, frame, most), wholeFloor, 'hardly in is not in');
});

test('in another frame the same part of the floor is in sight', () => {
  const sight = zoomed(wholeFloor, 4, 400, 250, frame, most);
  const half = refitted(sight, frame, { width: 400, height: 250 });
  assert.deepEqual([half.zoom, half.x, half.y], [4, sight.x / 2, sight.y / 2]);
});

test('a large floor can be zoomed in further, and a wheel there and back is nothing', () => {
  assert.equal(mostZoom(0.2), 4);
  assert.equal(mostZoom(0.01), 30);
  assert.ok(Math.abs(wheelFactor(120, 0) * wheelFactor(-120, 0) - 1) < 1e-12);
  assert.ok(wheelFactor(-120, 0) > 1.2 && wheelFactor(-3, 1) > 1.05);
  assert.ok(wheelFactor(1e9, 0) > 0.5, 'no turn of a wheel throws one off the floor');
});

const floor = {
  points: [{ id: 'A', x: 0, y: 0 }, { id: 'B', x: 10_000, y: 4_000 }],
  segments: [{ id: 'S', from: 'A', to: 'B', line: [[0, 0], [10_000, 4_000]], length: 10_770, speed: 400 }],
  stations: [{ id: 'T', name: 'Glazing', point: 'A' }],
} as unknown as Floor;

test('zoomed in the drawing is larger, its frame and its signs are not', () => {
  const one = layoutOf(floor, 500, 400);
  const three = layoutOf(floor, 500, 400, 3);
  assert.deepEqual([three.width, three.height, three.signs], [one.width, one.height, one.signs]);
  assert.ok(Math.abs(three.scale - 3 * one.scale) < 1e-12);
  for (const at of [[0, 0], [10_000, 4_000], [3_000, 100]] as [number, number][]) {
    const [x, y] = one.px(at);
    const [fx, fy] = three.px(at);
    assert.ok(Math.abs(fx - 3 * x) < 1e-6 && Math.abs(fy - 3 * y) < 1e-6);
  }
  // A station's name keeps its distance from its station, in px.
  const away = (layout: typeof one) => {
    const label = layout.labels.find((l) => l.kind === 'station')!;
    const [x, y] = layout.px([0, 0]);
    return Math.hypot(label.x - x, label.y - y);
  };
  assert.ok(away(three) < away(one) + 40, `${away(three)} px and ${away(one)} px`);
  // On a phone points have names only when there is room for them.
  const names = (zoom: number) => layoutOf(floor, 390, 400, zoom).labels.filter((l) => l.kind === 'point').length;
  assert.deepEqual([names(1), names(2)], [0, 2]);
});
