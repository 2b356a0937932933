// Names on the floor's drawing: none on another, and the chosen one always there.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { placeNames, type Wanted } from '../src/draw/names.ts';

const at = (id: string, x: number, y: number, more: Partial<Wanted> = {}): Wanted => ({ id, text: `Name ${id}`, at: [x, y], size: 15, ...more });
const ids = (names: { id: string }[]) => names.map(({ id }) => id).sort();

test('a name stands right of its point and above, left where the drawing ends', () => {
  const [far, near] = placeNames([at('A', 50, 100), at('B', 385, 100)], 390);
  assert.deepEqual([far!.anchor, far!.dx > 0, far!.dy < 0], ['start', true, true]);
  assert.deepEqual([near!.anchor, near!.dx < 0], ['end', true]);
});

test('a second name gives way, a fifth at one place is left out', () => {
  const crowd = ['A', 'B', 'C', 'D', 'E'].map((id) => at(id, 200, 100));
  const names = placeNames(crowd, 390);
  assert.deepEqual(ids(names), ['A', 'B', 'C', 'D']);
  assert.equal(new Set(names.map((n) => `${n.dx} ${n.dy}`)).size, 4);
  assert.deepEqual(ids(placeNames([at('A', 20, 100), at('B', 300, 100), at('C', 200, 300)], 390)), ['A', 'B', 'C']);
});

test('what is chosen has its name, whatever else goes', () => {
  const crowd = [...'ABCDEF'].map((id) => at(id, 200, 100));
  assert.ok(ids(placeNames([...crowd, at('Z', 200, 100, { always: true })], 390)).includes('Z'));
  assert.ok(ids(placeNames([at('Z', 5, 5, { always: true, text: 'a name longer than the drawing is wide, by far' })], 90)).includes('Z'));
});
