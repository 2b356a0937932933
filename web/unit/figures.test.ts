// The last hour's figures, from jobs.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Job } from '../src/api/types.ts';
import { figuresOf, hour } from '../src/wall/figures.ts';

const now = Date.parse('2026-03-04T12:00:00Z');
const minutes = (n: number) => new Date(now + n * 60_000).toISOString();
const work = (id: number, more: Partial<Job>): Job => ({
  id, from: 'X', to: 'Y', via: [], stops_done: 0, state: 'queued', priority: 5, note: '', due: null,
  cart: null, created: minutes(-90), changed: minutes(0), loaded_at: null, ended_at: null, expected_pickup: null, expected_delivery: null, reason: '',
  why: [], ...more,
});
const delivered = (id: number, asked: number, ended: number, due: number | null = null) =>
  work(id, { state: 'delivered', created: minutes(asked), ended_at: minutes(ended), due: due === null ? null : minutes(due) });

test('deliveries, lead time and late jobs of the last hour', () => {
  const jobs = [
    delivered(1, -80, -61), // before the hour
    delivered(2, -40, -30, -35), // late, took 10
    delivered(3, -22, -20, -19), // in time, took 2
    delivered(4, -9, -5), // took 4
    work(5, { state: 'cancelled', ended_at: minutes(-3) }),
    work(6, { due: minutes(-1) }),
    work(7, { state: 'loaded', due: minutes(1) }),
  ];
  assert.deepEqual(figuresOf(jobs, 0, now), {
    since: now - hour, delivered: 3, lead: 4 * 60_000, deliveredLate: 1, open: 2, openLate: 1,
  });
});

test('where less than an hour is known, the figures are about that', () => {
  const known = now - 25 * 60_000;
  const figures = figuresOf([delivered(2, -40, -30), delivered(3, -22, -20)], known, now);
  assert.equal(figures.since, known);
  assert.equal(figures.delivered, 1);
  assert.equal(figuresOf([], 0, now).lead, null);
});
