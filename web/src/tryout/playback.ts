// The carts of a try-out at a moment of it, and the moment going on. Pure but for who watches.
import type { Movement, Sighting } from './service.ts';

export interface Seen {
  /** The middle of the body, mm. */
  x: number;
  y: number;
  /** Degrees counter-clockwise from the x axis. */
  nose: number;
  /** One of the movement's words. */
  doing: string;
  loaded: boolean;
}

/** Between two sightings a body goes in a straight line and turns evenly, the shorter way round. */
export function seenAt(sightings: readonly Sighting[], doing: readonly string[], ms: number): Seen | null {
  const first = sightings[0];
  if (!first) return null;
  let low = 0;
  let high = sightings.length - 1;
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    if (sightings[middle]![0] <= ms) low = middle;
    else high = middle - 1;
  }
  const from = sightings[low]!;
  const to = sightings[low + 1];
  const part = to && ms > from[0] ? (ms - from[0]) / (to[0] - from[0]) : 0;
  const between = (k: 1 | 2) => from[k] + part * ((to ?? from)[k] - from[k]);
  const turn = to ? ((((to[3] - from[3]) % 360) + 540) % 360) - 180 : 0;
  return { x: between(1), y: between(2), nose: from[3] + part * turn, doing: doing[from[4]] ?? '', loaded: from[5] === 1 };
}

export class Playback {
  /** ms since the run began. */
  at = 0;
  /** Times as fast as the works; 0: it stands. */
  speed = 0;
  private readonly watchers = new Set<() => void>();

  constructor(readonly movement: Movement) {}

  get end(): number {
    return this.movement.until_s * 1_000;
  }

  /** Every cart by its id, now. */
  carts(): { cart: string; seen: Seen }[] {
    const { carts, doing } = this.movement;
    return carts.flatMap(({ cart, sightings }) => {
      const seen = seenAt(sightings, doing, this.at);
      return seen ? [{ cart, seen }] : [];
    });
  }

  /** From the beginning again if it is at its end. */
  play(speed: number): void {
    this.speed = speed;
    if (this.at >= this.end) this.at = 0;
    this.tell();
  }

  pause(): void {
    this.speed = 0;
    this.tell();
  }

  goTo(ms: number): void {
    this.at = Math.min(Math.max(0, ms), this.end);
    this.tell();
  }

  /** So many real ms have passed. */
  advance(real: number): void {
    if (this.speed === 0) return;
    this.at = Math.min(this.end, this.at + real * this.speed);
    if (this.at >= this.end) this.speed = 0;
    this.tell();
  }

  /** Told of every change until what it gives is called. */
  watch(watcher: () => void): () => void {
    this.watchers.add(watcher);
    return () => void this.watchers.delete(watcher);
  }

  private tell(): void {
    for (const watcher of this.watchers) watcher();
  }
}
