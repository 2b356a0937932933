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

/** One link of the chain that says why something stands; `text` says it in a sentence. */
export interface Reason {
  kind: string;
  text: string;
  cart?: string;
  other?: string;
  job?: number;
  point?: string;
  piece?: string;
  station?: string;
  zone?: string;
  since?: string;
  /** A forecast. */
  until?: string;
  fault?: string;
  count?: number;
  what?: Handling;
}

export type Handling = 'load' | 'unload';

/** A stop between the first and the last of a job. */
export interface Stop {
  station: string;
  what: Handling;
}

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
  waits_for: { track: string; cart: string | null; for_turn: boolean; since: string } | null;
  /** From the cart itself to the root; empty while it drives. */
  why: Reason[];
}

export type JobState = 'queued' | 'assigned' | 'loaded' | 'delivered' | 'cancelled' | 'stranded';

export interface Job {
  id: number;
  from: string;
  to: string;
  via: Stop[];
  /** Of all stops: the first, those in `via`, the last. */
  stops_done: number;
  state: JobState;
  priority: number;
  note: string;
  due: string | null;
  cart: string | null;
  created: string;
  changed: string;
  loaded_at: string | null;
  ended_at: string | null;
  /** When the cart reaches `from`; null before it has a cart, and once it is there. */
  expected_pickup: string | null;
  /** When it will be unloaded at `to`; null while nobody can tell. */
  expected_delivery: string | null;
  reason: string;
  /** From the job itself to the root; empty once a cart has taken it up. */
  why: Reason[];
}

export interface Alarm {
  id: number;
  kind: string;
  cart: string | null;
  job: number | null;
  point: string | null;
  text: string;
  since: string;
  /** Who has seen it first. */
  seen: { by: string; at: string } | null;
}

/** A segment, station or cart (one of the three) that a person has taken out of service. */
export interface Downtime {
  segment?: string;
  station?: string;
  cart?: string;
  reason: string;
  from: string;
  /** When it is expected back. */
  until: string | null;
  /** `from` has come. */
  begun: boolean;
  /** Also, nothing is on its way there or busy with it any more. */
  clear: boolean;
}

/** Track that is stopped and released as a whole. */
export interface Zone {
  id: string;
  name: string;
  segments: string[];
  stopped: boolean;
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
  /** Loads that may stand there, and that do; null where they are not counted. */
  capacity: number | null;
  loads: number | null;
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
  live_limit: { carts: number; reason: string };
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
  /** Those with a capacity. */
  stations: Station[];
  alarms: Alarm[];
  downtimes?: Downtime[];
  zones?: Zone[];
}

/** Those members that are not as before; the path is without the steps before `path_from`. */
export type CartChange = Pick<Cart, 'id'> & Partial<Cart> & { path_from?: number };

export interface Change {
  type: 'change';
  rev: number;
  time: string;
  carts?: CartChange[];
  jobs?: Job[];
  stations?: Station[];
  alarms?: Alarm[];
  downtimes?: Downtime[];
  zones?: Zone[];
  all_stopped?: boolean;
}

export type LiveMessage =
  | Snapshot
  | Change
  | { type: 'resumed'; run: string; rev: number; time: string }
  | { type: 'time'; time: string };

/** From asked to delivered, s. */
export interface Lead {
  median: number;
  p90: number;
}

/** What the carts' time goes into. */
export type Use = 'moving' | 'waiting' | 'handling' | 'charging' | 'idle' | 'out';

/** How the works ran from `from` until `to`. */
export interface Figures {
  from: string;
  to: string;
  /** When they were read. */
  time: string;
  /** Of carts, merges and tags nothing is kept from before; null if nothing is kept at all. */
  kept_since: string | null;
  delivered: number;
  lead_s: Lead | null;
  hours: { from: string; delivered: number; lead_s: Lead | null }[];
  due: { jobs: number; on_time: number; late: number; overdue: number; to_come: number; ended_otherwise: number };
  late_jobs: { id: number; from: string; to: string; due: string; delivered: string | null; late_s: number }[];
  carts: ({ cart: string } & Record<`${Use}_s`, number>)[];
  merges: { point: string; waits: number; waited_s: number }[];
  tags: { point: string; read: number; missed: number }[];
}

/** A run of the service that is in its journal. */
export interface PastSpan {
  run: number;
  from: string;
  /** Its last event kept. */
  to: string;
  floor: string;
  ending: string | null;
}

/** Boards of the past: the first whole, each next as what has changed. */
export interface PastBoards {
  span: PastSpan;
  /** The moment of the last board. */
  until: string;
  messages: (LiveMessage & { time: string })[];
  /** Every alarm of the run as it was raised, as far as it has been gone through. */
  alarms: Alarm[];
  alarms_until: string;
}

export type Role = 'viewer' | 'operator' | 'supervisor' | 'builder';

/** Who is signed in here. */
export interface Me {
  name: string;
  role: Role;
  /** Goes with everything that changes something. */
  csrf: string;
  /** Nobody had to sign in: everybody is this one. */
  demo: boolean;
}

export interface Account {
  name: string;
  role: Role;
  created: string;
  last_seen: string | null;
}

/** For a machine. `call` may do nothing but ask for the one job from `from` to `to`. */
export interface Token {
  id: string;
  name: string;
  scope: Role | 'call';
  from?: string;
  to?: string;
  created: string;
  expires: string;
  last_used: string | null;
}

export interface AuditEntry {
  id: number;
  time: string;
  who: string;
  what: string;
  about: string;
  from_address: string;
  outcome: string;
}

/** RFC 9457 problem body. */
export interface Problem {
  type?: string;
  title?: string;
  status?: number;
  detail?: string;
  errors?: { pointer: string; detail: string }[];
  /** Of GET /api/me: there is no account yet. */
  setup?: boolean;
  /** Of a refusal by sign-in, when it is in one sentence only. */
  error?: string;
}
