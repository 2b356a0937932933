// The JSON Schemas of the cart link say what the codec does: every sample frame is valid, and over
// many broken frames each schema and the codec take and refuse the same ones, but for a short list
// of things that a schema can't say. TAGLINE_CODEC_SAYS names the program that asks the codec.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync, readdirSync } from 'node:fs';
import { createRequire } from 'node:module';
import { test } from 'node:test';

const fromWeb = createRequire(new URL('../../../web/package.json', import.meta.url));
const { Ajv2020 } = fromWeb('ajv/dist/2020.js');
const protocol = new URL('../../../protocol/', import.meta.url);
const read = (name) => readFileSync(new URL(name, protocol), 'utf8');

// Strict: a misspelt keyword is an error. But a first item unlike the rest is meant.
const ajv = new Ajv2020({ strict: true, strictTuples: false, allErrors: false });
const schemas = {};
const validators = {};
for (const from of ['cart', 'service']) {
  schemas[from] = JSON.parse(read(`schemas/from-${from}.schema.json`));
  validators[from] = ajv.compile(schemas[from]);
}

/** Whether the schema takes the text of a frame; text that is no JSON is never a message. */
function schemaTakes({ from, text }) {
  try {
    return validators[from](JSON.parse(text));
  } catch (error) {
    if (error instanceof SyntaxError) return false;
    throw error;
  }
}

/** What the codec says of each case, in order: {taken} or {pointer, wrong, right}. */
function codecSays(cases) {
  const program = process.env.TAGLINE_CODEC_SAYS;
  assert.ok(program, 'TAGLINE_CODEC_SAYS must name the program codec_says');
  const input = cases.map(({ from, text }) => `${from} ${JSON.stringify(text)}\n`).join('');
  const run = spawnSync(program, { input, encoding: 'utf8', maxBuffer: 1 << 30 });
  assert.equal(run.status, 0, run.stderr);
  const answers = run.stdout.trimEnd().split('\n').map((line) => JSON.parse(line));
  assert.equal(answers.length, cases.length);
  return answers;
}

const samples = readdirSync(new URL('samples/', protocol))
  .filter((name) => name.endsWith('.jsonl'))
  .flatMap((name) =>
    read(`samples/${name}`)
      .trimEnd()
      .split('\n')
      .map((line, at) => ({ ...JSON.parse(line), where: `${name}:${at + 1}` })),
  );

test('every sample frame is valid, in its own direction', () => {
  const seen = { cart: new Set(), service: new Set() };
  for (const { from, frame, where } of samples.filter((line) => line.frame)) {
    assert.ok(validators[from](frame), `${where}: ${ajv.errorsText(validators[from].errors)}`);
    seen[from].add(frame.type);
  }
  for (const from of ['cart', 'service']) {
    const described = schemas[from].oneOf.map(({ $ref }) => $ref.replace('#/$defs/', ''));
    assert.deepEqual([...seen[from]].sort(), described.sort());
  }
});

test('the frames that the samples show refused are not valid', () => {
  const refused = samples.filter((line) => line.raw);
  assert.ok(refused.length >= 3);
  for (const { from, raw, where } of refused) assert.ok(!schemaTakes({ from, text: raw }), where);
});

// ---- broken frames -----------------------------------------------------------------------------

const bases = {
  cart: [
    { type: 'hello', cart: 'cart-1', key: 'k!~', boot: 'b7', last_tag: '04A1B2C3', step: 3,
      until: 5, loaded: false, battery: 80, stopped: true },
    { type: 'read', seq: 4, tag: '04A1B2C3', step: 2 },
    { type: 'state', seq: 5, battery: 50, loaded: true, moving: false, fault: 'none' },
    { type: 'done', seq: 6, step: 9, what: 'load' },
    { type: 'stop', seq: 7, cause: 'button' },
    { type: 'release', seq: 8 },
  ],
  service: [
    { type: 'welcome', seq: 0, time_ms: 1795590000000 },
    { type: 'ack', seq: 3 },
    { type: 'authority', trip: 1, points: [
      { step: 1, point: 'H1', tags: ['04A1000A'], act: 'stop' }] },
    { type: 'authority', trip: 2, points: [
      { step: 7, point: 'P1', tags: ['04A10001', '04A100FF'], act: 'turn' },
      { step: 8, point: 'P2', tags: [], act: 'go', branch: 'left', gear: 'back', length: 900,
        speed: 200 },
      { step: 9, point: 'P3', tags: ['04A10003'], act: 'load', branch: 'right', gear: 'forward',
        length: 1, speed: 1 }] },
    { type: 'hold', reason: 'Waits for P3: cart-1 goes first' },
    { type: 'stop', reason: 'Stopped by a person' },
    { type: 'release' },
    { type: 'reset' },
    { type: 'handled', step: 6, what: 'unload' },
  ],
};

const most = Number.MAX_SAFE_INTEGER; // 2^53 - 1
const acts = ['go', 'turn', 'stop', 'wait', 'load', 'unload'];
const words = [...acts, 'none', 'blocked', 'tape_lost', 'overrun', 'wrong_tag', 'battery', 'drive',
  'reader', 'left', 'straight', 'right', 'forward', 'back',
  'button', 'bumper', 'scanner', 'service'];
const types = ['hello', 'read', 'state', 'done', 'stop', 'release', 'welcome', 'ack', 'authority',
  'hold', 'reset', 'handled'];
const tag = (digits, first = 'A') => first + '0123456789ABCDEF0123456'.slice(0, digits - 1);
const row = (count, first) => Array.from({ length: count }, (_, at) => first(at));
const texts = [
  '', 'a', 'Z', '0', '-', '_', '.', '~', '!', ' ', '/', '@', '[', '`', '{', '\u007f', '\u0000',
  'a b', ' a', 'a ', 'a\n', '\na', 'a\r', 'a\u2028', '\u00e4', '\u0661', 'K\u212a', '\u{1f600}',
  ...[32, 33, 64, 65, 500, 501].map((count) => 'x'.repeat(count)),
  ...row(22, (at) => tag(at + 1)), 'A012345G', 'a0123456', 'A012345f', '04:A1:B2', 'A0123456\n',
  '\uff21' + tag(7), ...words, ...words.map((word) => word.toUpperCase()), ...types,
];
const numbers = [0, -0, 1, -1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 99, 100, 101, 255, 256, 9999, 10000,
  10001, 999999, 1000000, 1000001, 2 ** 31, 2 ** 32, 2 ** 32 + 1, most - 1, most, most + 1, 2 ** 63,
  2 ** 64, 1e300, -most, 0.5, 1.5, 99.5, 100.5];
const values = [
  null, true, false, ...numbers, ...texts, ...numbers.map(String), 'true', 'null', {}, [], [[]],
  [0], [null], [''], { step: 1 }, [{}],
  ...[1, 15, 16, 17].map((count) => row(count, (at) => `A00000${at + 10}`)),
  [tag(8), tag(8)], [tag(8), tag(8, 'B'), tag(8)], [tag(8), tag(9)], [tag(8), 8], [tag(8), tag(10)],
];
const keys = ['type', 'cart', 'key', 'boot', 'last_tag', 'step', 'until', 'loaded', 'battery',
  'stopped', 'seq', 'tag', 'moving', 'fault', 'what', 'cause', 'time_ms', 'trip', 'points', 'point',
  'tags', 'act', 'branch', 'gear', 'length', 'speed', 'reason', 'extra', '', 'Type', '__proto__'];

/** Every object or array inside a frame, as the keys that lead there. */
function places(value, path = []) {
  if (value === null || typeof value !== 'object') return [];
  return [path, ...Object.entries(value).flatMap(([key, part]) => places(part, [...path, key]))];
}

/** A copy with one change at a place: `change` gets the object or array there. */
function changed(frame, path, change) {
  const copy = structuredClone(frame);
  change(path.reduce((part, key) => part[key], copy));
  return copy;
}

const put = (key, value) => (part) =>
  Object.defineProperty(part, key, { value, enumerable: true, configurable: true, writable: true });
const leaveOut = (key) => (part) => {
  if (Array.isArray(part)) part.splice(Number(key), 1);
  else delete part[key];
};

/** Everything that can be wrong, or only just right, with one thing in a frame. */
function* changesOf(frame) {
  for (const path of places(frame)) {
    const here = path.reduce((part, key) => part[key], frame);
    for (const key of Object.keys(here)) {
      yield [path, leaveOut(key)];
      for (const value of values) yield [path, put(key, value)];
    }
    if (Array.isArray(here)) {
      for (const value of values) yield [path, (part) => part.push(value)];
      for (const key of Object.keys(here)) yield [path, (part) => part.push(part[key])];
    } else {
      for (const key of keys.filter((name) => !Object.hasOwn(here, name)))
        for (const value of [0, 1, '', 'none', 'A0123456', 'left', 'forward', [], {}, null, true])
          yield [path, put(key, value)];
    }
  }
}

/** What the codec refuses and no schema can; the page has the same list. */
const beyondSchemas = {
  'until below step': (said) => said.pointer === '/until' && said.wrong.endsWith('is before step'),
  'steps with gaps': (said) => said.right.endsWith('steps grow by one from point to point'),
  'the place of the act that ends': (said) =>
    said.pointer.endsWith('/act') && said.wrong.endsWith(' the last point'),
  'bytes of a reason': (said) => said.pointer === '/reason' && said.wrong.endsWith(' bytes'),
};

/** Compares both on all cases; the differences found, by their name in beyondSchemas. */
function compare(cases) {
  const found = Object.fromEntries(Object.keys(beyondSchemas).map((name) => [name, 0]));
  let taken = 0;
  const answers = codecSays(cases);
  cases.forEach((one, at) => {
    const said = answers[at];
    const codec = 'taken' in said;
    const schema = schemaTakes(one);
    taken += codec;
    if (codec === schema) return;
    const names = codec ? [] : Object.keys(beyondSchemas);
    const name = names.find((key) => beyondSchemas[key](said));
    assert.ok(name, `${one.from} ${one.text.slice(0, 400)}\ncodec: ${JSON.stringify(said)}\n` +
      `schema: ${schema ? 'takes it' : ajv.errorsText(validators[one.from].errors)}`);
    ++found[name];
  });
  return { found, taken, refused: cases.length - taken };
}

const endsAtLast = (at, count) => (at + 1 === count ? 'wait' : 'go');
const authority = (count, act = endsAtLast) =>
  JSON.stringify({ type: 'authority', trip: 1, points: row(count, (at) => ({
    step: at + 1, point: `P${at}`, tags: [], act: act(at, count),
    ...(at > 0 && { length: 1000, speed: 400 }) })) });

/** Every base with one thing changed, and what is a message of the other direction or no object. */
function oneThingChanged() {
  const cases = [];
  for (const from of ['cart', 'service']) {
    for (const frame of bases[from]) {
      cases.push({ from, text: JSON.stringify(frame) });
      for (const [path, change] of changesOf(frame))
        cases.push({ from, text: JSON.stringify(changed(frame, path, change)) });
      cases.push({ from: from === 'cart' ? 'service' : 'cart', text: JSON.stringify(frame) });
    }
    for (const value of values) cases.push({ from, text: JSON.stringify(value) });
  }
  for (const count of [255, 256, 257]) cases.push({ from: 'service', text: authority(count) });
  for (const first of acts)
    for (const second of acts)
      cases.push({ from: 'service', text: authority(2, (at) => [first, second][at]) });
  return cases;
}

test('schema and codec agree on frames with one thing changed', (t) => {
  const { found, taken, refused } = compare(oneThingChanged());
  t.diagnostic(`${taken} frames taken, ${refused} refused; ${JSON.stringify(found)}`);
  assert.ok(taken > 300 && refused > 5000, 'the table has lost its point');
});

/** The schema with one of its rules weakened, tightened or taken out, each with its place. */
function* brokenSchemas(schema) {
  const rules = ['minimum', 'maximum', 'minItems', 'maxItems', 'maxLength', 'maxContains',
    'pattern', 'enum', 'const', 'required', 'additionalProperties', 'uniqueItems', 'type', '$ref',
    'contains', 'prefixItems', 'items', 'then'];
  for (const path of places(schema)) {
    const here = path.reduce((part, key) => part[key], schema);
    const isRules = !Array.isArray(here) && path.at(-1) !== 'properties' && path.at(-1) !== '$defs';
    for (const key of isRules ? rules.filter((rule) => Object.hasOwn(here, rule)) : []) {
      const where = `${path.join('/')}/${key}`;
      yield [where, changed(schema, path, (part) => delete part[key])];
      if (typeof here[key] === 'number') {
        for (const by of [-1, 1])
          yield [`${where} ${by}`, changed(schema, path, (part) => (part[key] += by))];
      } else if (key === 'enum' || key === 'required') {
        for (const at of here[key].keys())
          yield [`${where} ${at}`, changed(schema, path, (part) => part[key].splice(at, 1))];
      }
    }
  }
}

/** Rules said for the reader's or the validator's sake: others would refuse the same frames. */
const saidTwice = new RegExp(
  'points/(minItems( -1)?|contains/(type|required.*)|then/.*type)$|' +
    'first_point/(type|properties/act/\\$ref)$',
);

test('the table above would notice a fault in any rule of the schemas', (t) => {
  const loose = new Ajv2020({
    strict: false, validateSchema: false, messages: false, code: { optimize: false },
  });
  const missed = [];
  let count = 0;
  for (const from of ['cart', 'service']) {
    const frames = oneThingChanged()
      .filter((one) => one.from === from)
      .map(({ text }) => JSON.parse(text));
    const before = new Map(frames.map((frame) => [frame, validators[from](frame)]));
    for (const [where, broken] of brokenSchemas(schemas[from])) {
      if (saidTwice.test(where)) continue;
      ++count;
      // A fault of one message shows without the others; that much less is to be looked at.
      const message = types.find((type) => where.startsWith(`$defs/${type}/`));
      if (message) broken.oneOf = [{ $ref: `#/$defs/${message}` }];
      const others = types.filter((type) => message && type !== message);
      const takes = loose.compile(broken);
      const notices = (frame) => takes(frame) !== before.get(frame);
      if (!frames.some((frame) => !others.includes(frame?.type) && notices(frame)))
        missed.push(`${from} ${where}`);
    }
  }
  t.diagnostic(`${count} faults planted`);
  assert.deepEqual(missed, []);
});

test('schema and codec agree on frames with two or three things changed', (t) => {
  let state = 20261125;
  const below = (count) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0; // Numerical Recipes' quick generator
    return Math.floor((state / 2 ** 32) * count);
  };
  const cases = [];
  for (const from of ['cart', 'service']) {
    for (const frame of bases[from]) {
      const changes = [...changesOf(frame)];
      for (let k = 0; k < 1500; ++k) {
        const copy = structuredClone(frame);
        for (let left = 2 + below(2); left > 0; --left) {
          const [path, change] = changes[below(changes.length)];
          const part = path.reduce((inner, key) => inner?.[key], copy);
          if (part !== null && typeof part === 'object' && (!path.length || Array.isArray(part) ===
              Array.isArray(path.reduce((inner, key) => inner[key], frame)))) change(part);
        }
        cases.push({ from, text: JSON.stringify(copy) });
      }
    }
  }
  const { found, taken, refused } = compare(cases);
  t.diagnostic(`${taken} frames taken, ${refused} refused; ${JSON.stringify(found)}`);
  assert.ok(taken > 50 && refused > 5000, 'the draws have lost their point');
});

test('an authority has 1 to 256 points, and exactly one act that ends it', () => {
  const cases = [1, 2, 255, 256, 257].map((count) => ({ from: 'service', text: authority(count) }));
  cases.push({ from: 'service', text: '{"type":"authority","trip":1,"points":[]}' });
  const answers = codecSays(cases);
  assert.deepEqual(cases.map(schemaTakes), [true, true, true, true, false, false]);
  assert.deepEqual(answers.map((said) => 'taken' in said), [true, true, true, true, false, false]);
  const valid = (...named) =>
    schemaTakes({ from: 'service', text: authority(named.length, (at) => named[at]) });
  for (const end of ['wait', 'stop', 'load', 'unload']) {
    assert.ok(valid(end) && valid('turn', end) && valid('go', 'turn', end), end);
    assert.ok(!valid(end, 'go') && !valid(end, end) && !valid('go', end, 'wait'), end);
  }
  assert.ok(!valid('go') && !valid('go', 'turn'));
});

test('what a schema cannot say is exactly what the page lists', () => {
  const cases = [
    ['until below step', 'cart', JSON.stringify({ ...bases.cart[0], step: 6 })],
    ['steps with gaps', 'service', authority(3).replace('"step":2', '"step":3')],
    ['the place of the act that ends', 'service',
      authority(3, (at) => (at === 1 ? 'wait' : 'go'))],
    ['bytes of a reason', 'service',
      JSON.stringify({ type: 'hold', reason: '\u00e4'.repeat(251) })],
    // These live in the text and are gone once it is read as JSON.
    ['numbers with a point or exponent', 'cart', '{"type":"release","seq":1.0}'],
    ['numbers with a point or exponent', 'cart', '{"type":"release","seq":1e2}'],
    ['a key given twice', 'cart', '{"type":"release","seq":1,"seq":2}'],
    ['halves of characters', 'service', '{"type":"hold","reason":"\\ud800"}'],
    ['bytes of a frame', 'cart', `{"type":"release","seq":1}${' '.repeat(65536)}`],
  ];
  const asked = cases.map(([, from, text]) => ({ from, text }));
  const page = read('README.md');
  codecSays(asked).forEach((said, at) => {
    const [name] = cases[at];
    assert.ok(!('taken' in said), `the codec refuses: ${name}`);
    assert.ok(schemaTakes(asked[at]), `a schema can say it after all: ${name}`);
    assert.ok(page.includes(`\n- ${name}`), `the page must list: ${name}`);
    if (name in beyondSchemas) assert.ok(beyondSchemas[name](said), JSON.stringify(said));
  });
});

test('a key left out means the default that the schema shows', () => {
  let shown = 0;
  for (const from of ['cart', 'service']) {
    for (const [name, part] of Object.entries(schemas[from].$defs)) {
      for (const [key, { default: value }] of Object.entries(part.properties ?? {})) {
        const optional = !part.required.includes(key);
        assert.equal(optional, value !== undefined, `${from} ${name}/${key}`);
        if (!optional) continue;
        ++shown;
        const inPoint = name === 'later_point';
        const base = inPoint ? bases.service[3] : bases[from].find(({ type }) => type === name);
        // `until` can't be left out alone.
        const frame = changed(base, inPoint ? ['points', '1'] : [], (object) => {
          delete object[key];
          if (key === 'until') object.step = 0;
        });
        const [said] = codecSays([{ from, text: JSON.stringify(frame) }]);
        assert.ok(said.taken, JSON.stringify(said));
        const again = JSON.parse(said.taken);
        assert.equal((inPoint ? again.points[1] : again)[key], value, `${from} ${name}/${key}`);
      }
    }
  }
  assert.equal(shown, 9);
});
