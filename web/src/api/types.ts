// What the service says, as written in server/net/API.md. Lengths in mm, speeds in mm/s,
// times as RFC 3339 texts by the service's clock.

export type CartMode =
  | 'off_floor'
  | 'in_doubt'
  | 'needs_release'
  | 'idle'
  | 'driving'
  | 'waiting'
  | 'handling'
  | 'charging';

export type Act = 'go' | 'load' | 'unload' | 'rest';

/** One point of a cart's path; `segment` leads here from the point before. */
export interface PathPoint {
  step: number;
  point: string;
  segment: string | null;
  /** Driven from the segment's `to` end to its `from` end. */
  reversed: boolean;
  /** Driven in reverse gear. */
  back: boolean;
  /** The cart turns on the spot before this segment. */
  turn: boolean;
  act: Act;
}

export interface Cart {
  id: string;
  mode: CartMode;
  connected: boolean;
  loaded: boolean;
  battery: number;
  fault: string;
  trouble: string;
  job: number | null;
  trip: number;
  path: PathPoint[];
  /** Index in `path` of the point where the cart will stop. */
  authority: number;
  passed_at: string;
  holds: string[];
  waits_for: { track: string; cart: string | null; since: string } | null;
}

export type JobState = 'queued' | 'assigned' | 'loaded' | 'delivered' | 'cancelled' | 'stranded';

export interface Job {
  id: number;
  from: string;
  to: string;
  state: JobState;
  priority: number;
  note: string;
  cart: string | null;
  created: string;
  changed: string;
  loaded_at: string | null;
  ended_at: string | null;
  reason: string;
  waits: string;
}

export interface Alarm {
  id: number;
  kind: string;
  cart: string | null;
  job: number | null;
  point: string | null;
  text: string;
  since: string;
}

export type Position = [x: number, y: number];

export interface FloorPoint {
  id: string;
  x: number;
  y: number;
  siding: boolean;
  turn_round: boolean;
  tagged: boolean;
}

export interface FloorSegment {
  id: string;
  from: string;
  to: string;
  /** Polyline from `from` to `to`, both included. */
  line: Position[];
  length: number;
  speed: number;
  two_way: boolean;
  spur: boolean;
}

export interface Station {
  id: string;
  name: string;
  point: string;
}

export interface CartBody {
  length: number;
  width: number;
  reader_to_nose: number;
  speed: number;
  acceleration: number;
  deceleration: number;
  clearance: number;
}

export interface Floor {
  name: string;
  pace: number;
  cart: CartBody;
  points: FloorPoint[];
  segments: FloorSegment[];
  stations: Station[];
  chargers: { id: string; point: string }[];
}

export interface Snapshot {
  type: 'snapshot';
  run: string;
  rev: number;
  time: string;
  pace: number;
  all_stopped: boolean;
  carts: Cart[];
  jobs: Job[];
  alarms: Alarm[];
}

export interface Change {
  type: 'change';
  rev: number;
  time: string;
  carts?: Cart[];
  jobs?: Job[];
  alarms?: Alarm[];
  all_stopped?: boolean;
}

export type LiveMessage =
  | Snapshot
  | Change
  | { type: 'resumed'; run: string; rev: number; time: string }
  | { type: 'time'; time: string };

/** RFC 9457 problem body. */
export interface Problem {
  type?: string;
  title?: string;
  status?: number;
  detail?: string;
  errors?: { pointer: string; detail: string }[];
}
