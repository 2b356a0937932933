// A small floor for the page's tests: a loop with a branch, a two-way corridor and a spur.
const body = {
  length: 600,
  width: 400,
  reader_to_nose: 100,
  speed: 400,
  acceleration: 300,
  deceleration: 600,
  clearance: 100,
};

const at = {
  P1: [0, 0], P2: [4000, 0], P3: [8000, 0], P4: [12000, 0], P5: [14000, 2000], P6: [14000, 5000],
  P7: [12000, 7000], P8: [8000, 7000], P9: [4000, 7000], P10: [0, 7000], P11: [-2000, 5000],
  P12: [-2000, 2000], P13: [8000, 3500], P14: [17000, 5000], P15: [2000, 9000], P16: [6000, 9000],
};

const ways = [
  ['S1', 'P1', 'P2'], ['S2', 'P2', 'P3'], ['S3', 'P3', 'P4'],
  ['S4', 'P4', 'P5', { via: [[13500, 300]] }], ['S5', 'P5', 'P6'],
  ['S6', 'P6', 'P7', { via: [[13500, 6700]] }], ['S7', 'P7', 'P8'], ['S8', 'P8', 'P9'],
  ['S9', 'P9', 'P10'], ['S10', 'P10', 'P11', { via: [[-1500, 6700]] }], ['S11', 'P11', 'P12'],
  ['S12', 'P12', 'P1', { via: [[-1500, 300]] }], ['S13', 'P3', 'P13', { two_way: true }],
  ['S14', 'P13', 'P8', { two_way: true }], ['S15', 'P6', 'P14', { spur: true }],
  ['S16', 'P16', 'P15'], ['S17', 'P8', 'P16', { via: [[7600, 8700]] }],
  ['S18', 'P15', 'P10', { via: [[300, 8700]] }],
];

function segment([id, from, to, more = {}]) {
  const line = [at[from], ...(more.via ?? []), at[to]];
  let length = 0;
  for (let i = 1; i < line.length; i++) {
    length += Math.hypot(line[i][0] - line[i - 1][0], line[i][1] - line[i - 1][1]);
  }
  return {
    id, from, to, line, length: Math.round(length), speed: more.speed ?? 400,
    two_way: more.two_way ?? false, spur: more.spur ?? false,
  };
}

export const floor = {
  name: 'Test pottery',
  pace: 1,
  live_limit: { carts: 2, reason: 'there is no further siding.' },
  cart: body,
  points: Object.entries(at).map(([id, [x, y]]) => ({
    id, x, y, siding: id === 'P15' || id === 'P16', turn_round: id === 'P13', tagged: true,
  })),
  segments: ways.map(segment),
  stations: [
    { id: 'CAST', name: 'Casting', point: 'P2' },
    { id: 'DRY', name: 'Drying', point: 'P5' },
    { id: 'GLAZE', name: 'Glazing', point: 'P9' },
    { id: 'KILN', name: 'Kiln room', point: 'P14' },
    { id: 'PACK', name: 'Packing', point: 'P11' },
  ].map((s) => ({ ...s, capacity: s.id === 'DRY' ? 3 : null, loads: s.id === 'DRY' ? 2 : null })),
  chargers: [{ id: 'C1', point: 'P15' }],
};

/** One point of a path; `segment` leads to it. */
export const pathPoint = (step, point, segment, more = {}) => ({
  step, point, segment, reversed: false, back: false, turn: false, act: 'go', ...more,
});

/** A cart report, standing free at `point` unless told otherwise. */
export function cartAt(id, point, segment, more = {}) {
  return {
    id, mode: 'idle', connected: true, loaded: false, battery: 80, fault: 'none', trouble: '',
    job: null, trip: 1, path: [pathPoint(1, point, segment, { act: 'rest' })], authority: 0,
    passed_at: new Date(0).toISOString(), holds: [point, ...(segment ? [segment] : [])],
    waits_for: null, why: [], ...more,
  };
}

export function job(id, more = {}) {
  const now = new Date().toISOString();
  return {
    id, from: 'CAST', to: 'DRY', via: [], stops_done: 0, state: 'queued', priority: 5, note: '',
    due: null, cart: null, created: now, changed: now, loaded_at: null, ended_at: null,
    expected_pickup: null, expected_delivery: null, reason: '',
    why: [], ...more,
  };
}

/** One link of a chain of reasons. */
export const link = (kind, text, more = {}) => ({ kind, text, ...more });
