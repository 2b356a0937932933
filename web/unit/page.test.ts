// Small pure parts: words, identities, layout, choices, problem sentences.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { readFileSync } from 'node:fs';
import { sentence } from '../src/api/client.ts';
import type { Floor, Job } from '../src/api/types.ts';
import { cameFromChoices } from '../src/carts/came_from.ts';
import { hueCount, identify, patternCount } from '../src/carts/identity.ts';
import { layoutOf, scaleBar } from '../src/floor/layout.ts';
import { dueWords, expectedWords, jobWords, loadWords, spanWords, stopWords, zonedClockWords } from '../src/words/words.ts';

test('spans of time', () => {
  assert.equal(spanWords(-5), '0 s');
  assert.equal(spanWords(59_999), '59 s');
  assert.equal(spanWords(60_000), '1 min');
  assert.equal(spanWords(7_500_000), '2 h 5 min');
  assert.equal(spanWords(26 * 3_600_000), '1 d 2 h');
});

test('a clock that stands alone says how far it is from UTC', () => {
  const zone = process.env['TZ'];
  const at = Date.parse('2026-01-04T22:03:02Z');
  try {
    for (const [name, words] of [['Europe/Vienna', '23:03:02 +01:00'], ['Asia/Kolkata', '03:33:02 +05:30'], ['America/St_Johns', '18:33:02 −03:30'], ['UTC', '22:03:02 +00:00']] as const) {
      process.env['TZ'] = name;
      assert.equal(zonedClockWords(at), words, name);
    }
  } finally {
    if (zone === undefined) delete process.env['TZ'];
    else process.env['TZ'] = zone;
  }
});

const noon = Date.parse('2026-03-04T12:00:00');
const iso = (ms: number) => new Date(ms).toISOString();
const work = (more: Partial<Job>): Job => ({
  id: 1, from: 'X', to: 'Y', via: [], stops_done: 0, state: 'queued', priority: 5, note: '', due: null,
  cart: null, created: iso(noon), changed: iso(noon), loaded_at: null, ended_at: null,
  expected_pickup: null, expected_delivery: null, reason: '',
  why: [], ...more,
});

test('a job says its stops, and which one is next', () => {
  const via = [{ station: 'G', what: 'unload' as const }, { station: 'K', what: 'load' as const }];
  assert.equal(jobWords(work({ via }), null), 'X to Y by way of G, K');
  assert.equal(jobWords(work({}), null), 'X to Y');
  const twice = [...via.slice(0, 1), { station: 'G', what: 'load' as const }, ...via];
  assert.equal(jobWords(work({ via: twice }), null), 'X to Y by way of G, K');
  assert.equal(stopWords(work({}), null), '');
  assert.equal(stopWords(work({ via }), null), '0 of 4 stops done, next: load at X');
  assert.equal(stopWords(work({ via, stops_done: 2 }), null), '2 of 4 stops done, next: load at K');
  assert.equal(stopWords(work({ via, stops_done: 4, ended_at: iso(noon) }), null), '4 of 4 stops done');
});

test('a job says when it is due and how late it is', () => {
  const due = iso(noon + 30 * 60_000);
  assert.equal(dueWords(work({}), noon), null);
  assert.deepEqual(dueWords(work({ due }), noon), { text: 'due 12:30', late: false });
  assert.deepEqual(dueWords(work({ due }), noon + 35 * 60_000), { text: 'due 12:30, 5 min late', late: true });
  const ended = (state: Job['state'], min: number) =>
    dueWords(work({ due, state, ended_at: iso(noon + min * 60_000) }), noon + 3_600_000);
  assert.deepEqual(ended('delivered', 29), { text: 'was due 12:30', late: false });
  assert.deepEqual(ended('delivered', 31), { text: 'was due 12:30, 1 min late', late: true });
  assert.deepEqual(ended('cancelled', 31), { text: 'was due 12:30', late: false });
  assert.equal(dueWords(work({ due: iso(noon + 86_400_000) }), noon)?.text, 'due 5 Mar, 12:00');
});

test('a job says when its cart is there, then when it is unloaded, in whole minutes', () => {
  const at = (min: number) => iso(noon + min * 60_000);
  assert.equal(expectedWords(work({}), noon, null), '');
  const both = { expected_pickup: at(3.4), expected_delivery: at(9) };
  assert.equal(expectedWords(work(both), noon, null), 'At X in about 3 min');
  assert.equal(expectedWords(work(both), noon + 3 * 60_000, null), 'At X within a minute');
  assert.equal(expectedWords(work({ expected_delivery: at(9) }), noon, null), 'Unloaded at Y in about 9 min');
  assert.equal(expectedWords(work({ ...both, state: 'delivered', ended_at: at(0) }), noon, null), '');
});

test('loads are counted in words', () => {
  assert.equal(loadWords(2, 3), '2 of 3 loads');
  assert.equal(loadWords(0, 1), '0 of 1 load');
});

test('every cart of forty has its own colour and pattern, and a number', () => {
  const who = identify(Array.from({ length: hueCount * patternCount }, (_, i) => `cart-${i + 1}`));
  const looks = new Set([...who.values()].map((w) => `${w.hue}/${w.pattern}`));
  assert.equal(looks.size, hueCount * patternCount);
  assert.equal(who.get('cart-10')?.mark, '10');
  assert.equal(who.get('cart-2')?.name, 'Cart 2');
});

test('a problem body becomes a sentence, anything else names the status', () => {
  assert.equal(sentence('{"detail":"No station OVEN.","status":422}', 422), 'No station OVEN.');
  assert.match(
    sentence('{"title":"Bad body","errors":[{"pointer":"/to","detail":"is missing"}]}', 400),
    /Bad body \/to: is missing/,
  );
  assert.match(sentence('<html>', 502), /502/);
});

const floor: Floor = {
  name: 'f', pace: 1, live_limit: { carts: 1, reason: '' },
  cart: { length: 600, width: 400, reader_to_nose: 100, speed: 400, acceleration: 300, deceleration: 600, clearance: 100 },
  points: [['A', 0, 0], ['B', 30_000, 0], ['C', 30_000, 12_000]].map(([id, x, y]) => ({
    id: id as string, x: x as number, y: y as number, siding: false, turn_round: false, tagged: true,
  })),
  segments: [
    { id: 'S1', from: 'A', to: 'B', line: [[0, 0], [30_000, 0]], length: 30_000, speed: 400, two_way: true, spur: false },
    { id: 'S2', from: 'B', to: 'C', line: [[30_000, 0], [30_000, 12_000]], length: 12_000, speed: 400, two_way: false, spur: false },
  ],
  stations: [{ id: 'X', name: 'Glazing', point: 'A', capacity: null, loads: null }],
  chargers: [],
};

test('the floor fits the window, keeps its proportions, and y is up', () => {
  for (const width of [360, 390, 1000]) {
    const layout = layoutOf(floor, width, 560);
    const [ax, ay] = layout.px([0, 0]);
    const [cx, cy] = layout.px([30_000, 12_000]);
    for (const [v, most] of [[ax, width], [cx, width], [ay, layout.height], [cy, layout.height]] as const) {
      assert.ok(v >= 0 && v <= most);
    }
    assert.ok(Math.abs((cx - ax) / (ay - cy) - 30 / 12) < 1e-6);
    assert.ok(cy < ay);
    assert.ok(layout.labels.some((l) => l.text === 'Glazing'));
  }
});

test('the scale bar is a round length, true to scale', () => {
  const bar = scaleBar(0.03, 1000);
  assert.ok([1, 2, 5].includes(Number(String(bar.mm)[0])));
  assert.ok(Math.abs(bar.px - bar.mm * 0.03) < 1e-9);
});

test('where a cart can have come from', () => {
  assert.deepEqual(cameFromChoices(floor, 'B'), ['A']);
  assert.deepEqual(cameFromChoices(floor, 'A'), ['B']);
  assert.deepEqual(cameFromChoices(floor, 'C'), ['B']);
});

// WCAG 2.2, 1.4.3 (text 4.5:1) and 1.4.11 (graphics 3:1); relative luminance as defined there.
const css = readFileSync('src/look/base.css', 'utf8');
const schemes = { light: css.slice(0, css.indexOf('@media')), dark: css.slice(css.indexOf('@media'), css.indexOf('*,')) };

function luminance(hex: string): number {
  const [r, g, b] = [1, 3, 5].map((i) => {
    const c = parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
const contrast = (a: string, b: string) => {
  const [light, dark] = [luminance(a), luminance(b)].sort((x, y) => y - x) as [number, number];
  return (light + 0.05) / (dark + 0.05);
};

for (const [scheme, text] of Object.entries(schemes)) {
  test(`contrasts of the ${scheme} colours`, () => {
    const colour = (name: string) => {
      const found = new RegExp(`--${name}: (#[0-9a-f]{6});`).exec(text)?.[1];
      assert.ok(found, `--${name} is not in ${scheme}`);
      return found;
    };
    const need = (a: string, b: string, least: number) => {
      const got = contrast(colour(a), colour(b));
      assert.ok(got >= least, `${a} on ${b}: ${got.toFixed(2)} is below ${least}`);
    };
    for (const ground of ['page', 'surface', 'bad-wash']) {
      for (const ink of ['ink', 'ink-soft', 'bad', 'act']) need(ink, ground, 4.5);
    }
    for (const ink of ['wait', 'good']) {
      for (const ground of ['page', 'surface']) need(ink, ground, 4.5);
    }
    need('wait', 'bad-wash', 4.5);
    need('on-act', 'act', 4.5);
    need('on-stop', 'stop', 4.5);
    for (const sign of ['tape', 'edge']) need(sign, 'surface', 3);
    for (let i = 0; i < hueCount; i++) {
      need(`cart-${i}`, 'surface', 3);
      need('on-cart', `cart-${i}`, 4.5);
    }
  });
}

test('the contrast formula gives 21 for black on white (WCAG 2.2)', () => {
  assert.ok(Math.abs(contrast('#000000', '#ffffff') - 21) < 1e-9);
});
