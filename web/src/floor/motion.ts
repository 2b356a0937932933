// Where to draw a cart between two tag reads. Pure: cart reports and the time in, a pose out.
//
// The service knows a cart only at its reads. In between, the page drives a model of it: from the
// point last read it speeds up, keeps the segment's speed and brakes for the next point at which
// it must stop. The model never passes the point that has not been read yet, nor the end of the
// authority: a picture that runs ahead of the evidence could send a person into a cart's way.
// When a read shows that the real cart is ahead of the drawn one, the drawn one catches up
// smoothly. Kinematics: v^2 = 2 a s.
import type { Cart, CartBody, Position } from '../api/types.ts';
import { legTo, noseOnLeg, placeOnLeg, turnBetween, type FloorPlan, type Leg } from './geometry.ts';

/** A late cart is held this far before the point whose read is awaited, mm. */
export const holdBefore = 60;
/** Half a turn on the spot takes this long, ms (server/floor/ways.hpp). */
const halfTurn = 6_000;
/** How fast a drawn body may swing round on a bend, rad/s. */
const swing = Math.PI;
/** The drawn cart closes its gap to the model with this time constant, real ms. */
const catchUp = 250;
/** ... and at least this fast, mm per real ms. */
const catchUpLeast = 0.2;
/** Step of the model, service ms. */
const stride = 40;
/** What the model makes up for at once when a read arrives late, service ms. */
const longestCatch = 20_000;

export interface Pose {
  /** Where the tag reader is, mm. */
  at: Position;
  /** Where the nose points, rad. */
  nose: number;
}

/** The modes in which the service knows that the cart stands. */
const standing = new Set(['waiting', 'handling', 'charging', 'idle', 'needs_release', 'in_doubt']);

export class Glide {
  private cart: Cart;
  /** How path[0] says the cart lies: the segment its tail is on. Null when it is not known. */
  private arrival: Leg | null = null;
  /** The leg last driven: the drawn cart catches up along it. Not the arrival after backing out
      of a spur, where the tail lies on the segment from before the spur. */
  private came: Leg | null = null;
  /** From path[0] to path[1]. */
  private next: Leg | null = null;
  /** Model: driven mm beyond path[0], and speed. */
  private s = 0;
  private v = 0;
  /** Drawn minus modelled place, mm: 0 or negative, fading to 0. */
  private lag = 0;
  private turning = 0;
  private nose: number | null = null;
  private time: number;

  /** `now`: service time, ms. */
  constructor(
    private readonly plan: FloorPlan,
    cart: Cart,
    now: number,
  ) {
    this.cart = cart;
    this.time = now;
    this.takePath();
    this.came = this.arrival;
    this.replay(Date.parse(cart.passed_at), now);
  }

  /** The service reported the cart anew. */
  report(cart: Cart, now: number): void {
    const old = this.cart;
    const drawn = this.s + this.lag;
    const passed = Date.parse(cart.passed_at);
    this.cart = cart;
    const here = cart.path[0];
    const was = old.path[0];
    if (!here) {
      this.takePath();
      return;
    }
    if (was && was.step === here.step && was.point === here.point) {
      const turned = this.next?.turn ? this.turning : 0;
      this.takePath();
      if (this.next?.turn) this.turning = turned || this.turning;
      if (!this.mayDrive()) this.stand(drawn);
      this.s = Math.min(this.s, this.limit());
      return;
    }
    const index = old.path.findIndex((p) => p.step === here.step && p.point === here.point);
    const driven = index > 0 ? legTo(this.plan, old.path[index]!) : null;
    const speed = stopsAt(old, index) ? 0 : this.v;
    // How far the drawn cart is short of the point now read.
    const gap = index > 0 ? lengthUpTo(this.plan, old, index) - drawn : 0;
    this.takePath();
    this.came = driven ?? this.arrival;
    this.s = 0;
    this.v = stopsAt(cart, 0) ? 0 : speed;
    this.replay(Math.max(passed, now - longestCatch), now);
    const reach = this.came?.length ?? 0;
    this.lag = index > 0 ? -Math.min(Math.max(0, gap) + this.s, reach + this.s) : 0;
    if (index <= 0) this.nose = null; // put somewhere else: nothing to swing from
  }

  /** Goes on to service time `now`; `real` ms have passed for the person who looks. */
  advance(now: number, real: number): void {
    const passed = Math.max(0, now - this.time);
    this.drive(passed);
    this.time = now;
    // The fade alone would creep for seconds over the last few mm, as if a standing cart moved.
    this.lag = Math.min(0, this.lag * Math.exp(-real / catchUp) + catchUpLeast * real);
    const wanted = this.wantedNose();
    if (wanted === null) return;
    const limit = (this.turning > 0 ? Math.PI / halfTurn : swing / 1_000) * passed;
    const turn = this.nose === null ? 0 : turnBetween(this.nose, wanted);
    this.nose = this.nose === null || Math.abs(turn) <= limit ? wanted : this.nose + Math.sign(turn) * limit;
  }

  /** Where the cart is to be drawn; null when it is nowhere on the floor. */
  pose(): Pose | null {
    const here = this.cart.path[0];
    if (!here || this.cart.mode === 'off_floor') return null;
    const drawn = this.s + this.lag;
    const point = this.plan.points.get(here.point);
    if (!point) return null;
    let at: Position = [point.x, point.y];
    if (drawn > 0 && this.next) at = placeOnLeg(this.next, drawn);
    if (drawn < 0 && this.came) at = placeOnLeg(this.came, this.came.length + drawn);
    return { at, nose: this.nose ?? this.wantedNose() ?? 0 };
  }

  /** Driven mm beyond the point last read; negative while the drawn cart catches up. */
  get driven(): number {
    return this.s + this.lag;
  }

  private takePath(): void {
    const [here, next] = this.cart.path;
    this.arrival = here ? legTo(this.plan, here) : null;
    this.next = next ? legTo(this.plan, next) : null;
    this.turning = this.next?.turn ? halfTurn : 0;
  }

  private mayDrive(): boolean {
    return !standing.has(this.cart.mode) && this.cart.mode !== 'off_floor' && this.cart.authority > 0;
  }

  /** A standing cart is at its point if that is where its authority ends; else where it was. */
  private stand(drawn: number): void {
    this.v = 0;
    if (this.cart.authority > 0 && this.cart.mode !== 'idle') return;
    this.s = 0;
    this.lag = Math.min(0, Math.max(drawn, -(this.came?.length ?? 0)));
  }

  /** Farthest that the model may be, mm beyond path[0]. */
  private limit(): number {
    if (!this.next || this.cart.authority < 1) return 0;
    return Math.max(0, this.next.length - Math.min(holdBefore, this.next.length / 4));
  }

  private stopDistance(): number {
    let far = 0;
    for (let k = 1; k < this.cart.path.length; k++) {
      far += this.lengthOf(k);
      if (stopsAt(this.cart, k)) break;
    }
    return far;
  }

  private lengthOf(k: number): number {
    const segment = this.plan.segments.get(this.cart.path[k]?.segment ?? '');
    return segment?.length ?? 0;
  }

  private replay(from: number, now: number): void {
    this.drive(Math.min(Math.max(0, now - from), longestCatch));
    this.time = now;
  }

  private drive(duration: number): void {
    if (!this.next || !this.mayDrive()) return;
    const body: CartBody = this.plan.floor.cart;
    const stop = this.stopDistance();
    const limit = this.limit();
    let left = duration;
    if (this.turning > 0) {
      const used = Math.min(left, this.turning);
      this.turning -= used;
      left -= used;
    }
    while (left > 0 && this.s < limit) {
      const dt = Math.min(left, stride) / 1_000;
      left -= stride;
      const room = Math.max(0, stop - this.s);
      const braking = Math.sqrt(2 * body.deceleration * room);
      this.v = Math.min(this.v + body.acceleration * dt, this.next.speed, Math.max(braking, 20));
      this.s = Math.min(this.s + this.v * dt, limit);
    }
  }

  private wantedNose(): number | null {
    const drawn = this.s + this.lag;
    if (drawn < 0 && this.came) return noseOnLeg(this.came, this.came.length + drawn);
    if (this.next && (drawn > 0 || this.next.turn)) return noseOnLeg(this.next, Math.max(0, drawn));
    if (this.arrival) return noseOnLeg(this.arrival, this.arrival.length);
    return this.next ? noseOnLeg(this.next, 0) : null;
  }
}

/** Must the cart stand still at path[k] before it goes on? */
function stopsAt(cart: Cart, k: number): boolean {
  const here = cart.path[k];
  const next = cart.path[k + 1];
  if (!here || !next) return true;
  // How the cart came to path[0] is past: a change of gear shows only between two legs ahead.
  const changesGear = k > 0 && next.back !== here.back;
  return k >= cart.authority || here.act !== 'go' || next.turn || changesGear;
}

function lengthUpTo(plan: FloorPlan, cart: Cart, index: number): number {
  let total = 0;
  for (let k = 1; k <= index; k++) {
    total += plan.segments.get(cart.path[k]?.segment ?? '')?.length ?? 0;
  }
  return total;
}
