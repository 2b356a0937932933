// What two tabs of one device keep of the wishes and jobs of its operator, in one storage.
import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import type { Result } from '../src/api/client.ts';
import type { Job } from '../src/api/types.ts';
import { merged } from '../src/here/mine.ts';
import { Outbox, type Unsent } from '../src/here/outbox.ts';
import { amend, recall } from '../src/page/memory.ts';

const silence: Result<Job> = { ok: false, answered: false, status: 0, text: '', setup: false };
const taken = { ok: true, value: {} as Job, status: 201 } as Result<Job>;

let kept: Map<string, string>;
let full: boolean;

beforeEach(() => {
  kept = new Map();
  full = false;
  (globalThis as unknown as { localStorage: unknown }).localStorage = {
    getItem: (name: string) => kept.get(name) ?? null,
    setItem: (name: string, value: string) => {
      if (full) throw new Error('full');
      kept.set(name, value);
    },
  };
});

/** A tab; it hears nothing of the other but through the storage. */
function tab(name = 'unsent') {
  const sent: string[] = [];
  const at = { answer: silence };
  const outbox = new Outbox(
    {
      send: async (wish) => (sent.push(wish.to), at.answer),
      amend: (mine, change) => amend(name, mine, change),
      now: () => 1_000,
      changed: () => {},
      taken: () => {},
      refused: () => {},
    },
    recall<Unsent[]>(name, []),
  );
  return { outbox, sent, at };
}
const wishes = (name = 'unsent') => recall<Unsent[]>(name, []).map(({ wish }) => wish.to);

test('two tabs lose no wish of each other', async () => {
  const [one, two] = [tab(), tab()];
  await one.outbox.press({ from: 'CAST', to: 'DRY' });
  await two.outbox.press({ from: 'CAST', to: 'GLAZE' });
  await one.outbox.press({ from: 'CAST', to: 'PACK' });
  assert.deepEqual(wishes(), ['DRY', 'GLAZE', 'PACK']);
  one.outbox.forget(one.outbox.all()[0]!.key);
  assert.deepEqual(wishes(), ['GLAZE', 'PACK']);
  two.outbox.refresh();
  assert.deepEqual(two.outbox.all().map(({ wish }) => wish.to), ['GLAZE', 'PACK']);
});

test('what was sent or forgotten in one tab is not sent by the other', async () => {
  const one = tab();
  await one.outbox.press({ from: 'CAST', to: 'DRY' });
  await one.outbox.press({ from: 'CAST', to: 'GLAZE' });
  await one.outbox.press({ from: 'CAST', to: 'PACK' });
  const two = tab();
  const [dry, glaze] = one.outbox.all();
  one.outbox.forget(dry!.key);
  one.at.answer = taken;
  await one.outbox.send(glaze!.key);
  await two.outbox.send(dry!.key);
  await two.outbox.sendFresh();
  assert.deepEqual(two.sent, ['PACK']);
  assert.deepEqual(wishes(), ['PACK']);
});

test('where nothing can be kept a tab still knows its own wishes', async () => {
  full = true;
  const one = tab('wishes-of-a-full-device');
  await one.outbox.press({ from: 'CAST', to: 'DRY' });
  await one.outbox.press({ from: 'CAST', to: 'PACK' });
  assert.deepEqual(one.outbox.all().map(({ wish }) => wish.to), ['DRY', 'PACK']);
  await one.outbox.sendFresh();
  assert.deepEqual(one.sent, ['DRY', 'PACK', 'DRY', 'PACK']);
  full = false;
  one.outbox.forget(one.outbox.all()[0]!.key);
  assert.deepEqual(wishes('wishes-of-a-full-device'), ['PACK']);
});

test('jobs of two tabs: each as whoever saw it last, and those of both', () => {
  const job = (id: number, changed: string, state = 'queued') => ({ id, created: `c${id}`, changed, state }) as Job;
  const mine = [job(1, '08:00'), job(2, '08:09', 'loaded')];
  const theirs = [job(3, '08:05'), job(1, '08:04', 'assigned'), job(2, '08:01')];
  const known = merged(theirs, mine);
  assert.deepEqual(known.map(({ id, state }) => [id, state]), [[3, 'queued'], [1, 'assigned'], [2, 'loaded']]);
  assert.equal(merged(mine.map((j) => ({ ...j })), mine), mine, 'nothing differs');
  assert.deepEqual(merged([], mine), [], 'taken off the list in the other tab');
});
