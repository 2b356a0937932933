// Sorting by hand against the browser's own sorting, Intl.Collator (ECMA-402) with numbers.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { byId, byText } from '../src/words/order.ts';

test('ids stand as a collator that reads numbers puts them', () => {
  const collator = new Intl.Collator('en', { numeric: true });
  const ids = ['cart-10', 'cart-2', 'Cart-1', 'P9', 'P10', 'P1', 'S1', 'S1b', 'S12', 'a', 'lift2', 'lift10', '7', '12', 'T3-4', 'T3-10'];
  assert.deepEqual([...ids].sort(byId), [...ids].sort(collator.compare));
  for (const a of ids) for (const b of ids) assert.equal(Math.sign(byId(a, b)), Math.sign(collator.compare(a, b)), `${a} ${b}`);
});

test('ids that differ only in case have an order all the same', () => {
  assert.ok(byId('Cart-1', 'cart-1') < 0 && byId('cart-1', 'Cart-1') > 0);
  assert.equal(byId('cart-1', 'cart-1'), 0);
});

test('moments in UTC stand in their order', () => {
  const moments = ['2026-11-26T10:00:00.000Z', '2026-11-26T09:59:59.999Z', '2025-12-31T23:59:59.000Z'];
  assert.deepEqual([...moments].sort(byText), [...moments].sort((a, b) => Date.parse(a) - Date.parse(b)));
});
