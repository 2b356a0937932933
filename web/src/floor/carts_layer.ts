// The moving part of the drawing: held track, authorities and cart bodies. It writes to the SVG
// directly, frame by frame, so that sixty carts stay smooth; everything else is drawn by the view
// library.
import type { Cart, Position } from '../api/types.ts';
import { identify, type Identity } from '../carts/identity.ts';
import { legTo, lengthOf, part, placeAt, placeOnLeg, type FloorPlan, type Leg } from './geometry.ts';
import { pathText } from './drawing.tsx';
import type { Layout } from './layout.ts';
import { Glide } from './motion.ts';
import { circle, group, path, rect, text, titled } from './svg.ts';

/** A body is never drawn smaller than this, so that its number can be read, px. */
const leastLength = 26;
const leastWidth = 17;
/** Round a body's middle: large enough to be pointed at with a finger, px. */
const fingerReach = 18;

interface Drawn {
  cart: Cart;
  /** Chosen or not, out of service or not. */
  look: string;
  glide: Glide;
  held: SVGGElement;
  way: SVGGElement;
  firstLeg: SVGPathElement[];
  leg: Leg | null;
  body: SVGGElement;
  hull: SVGGElement;
}

export interface Groups {
  held: SVGGElement;
  ways: SVGGElement;
  bodies: SVGGElement;
}

/** Glides outlive a change of the window's size, so they are kept apart from what is drawn. */
export type Glides = Map<string, Glide>;

export class CartsLayer {
  private readonly drawn = new Map<string, Drawn>();
  private identities: ReadonlyMap<string, Identity> = new Map();

  constructor(
    private readonly plan: FloorPlan,
    private readonly layout: Layout,
    private readonly groups: Groups,
    private readonly glides: Glides,
  ) {
    for (const g of Object.values(groups)) g.replaceChildren();
  }

  /**
   * New reports are in; `now` is service time, ms. `chosen`: the cart whose whole way is shown;
   * `down`: those out of service.
   */
  update(carts: ReadonlyMap<string, Cart>, now: number, chosen: string | null, down: ReadonlySet<string>): void {
    this.identities = identify([...carts.keys()]);
    for (const [id, drawn] of this.drawn) {
      if (!carts.has(id)) this.forget(id, drawn);
    }
    for (const cart of carts.values()) {
      const known = this.drawn.get(cart.id);
      const look = `${chosen === cart.id} ${down.has(cart.id)}`;
      if (known && known.cart === cart && known.look === look) {
        continue;
      }
      let glide = this.glides.get(cart.id);
      if (!glide) {
        glide = new Glide(this.plan, cart, now);
        this.glides.set(cart.id, glide);
      } else if (known?.cart !== cart) {
        glide.report(cart, now);
      }
      this.redraw(cart, glide, chosen === cart.id, down.has(cart.id), look);
    }
  }

  /** Moves the bodies on. */
  frame(now: number, real: number): void {
    for (const drawn of this.drawn.values()) {
      drawn.glide.advance(now, real);
      this.place(drawn);
    }
  }

  private forget(id: string, drawn: Drawn): void {
    for (const g of [drawn.held, drawn.way, drawn.body]) g.remove();
    this.drawn.delete(id);
    this.glides.delete(id);
  }

  private redraw(cart: Cart, glide: Glide, chosen: boolean, down: boolean, shown: string): void {
    const who = this.identities.get(cart.id)!;
    const look = `hue-${who.hue} pattern-${who.pattern}`;
    const old = this.drawn.get(cart.id);

    const held = group(`held ${look}`, `held-${cart.id}`);
    for (const id of cart.holds) {
      const segment = this.plan.segments.get(id);
      const point = this.plan.points.get(id);
      if (segment) held.append(path('held-line', segment.line.map(this.layout.px)));
      if (point) held.append(circle('held-point', this.layout.px([point.x, point.y]), 6.5 * this.layout.signs));
    }

    const way = group(`way ${look}`, `way-${cart.id}`);
    const firstLeg: SVGPathElement[] = [];
    const end = Math.min(cart.authority, cart.path.length - 1);
    const legs = cart.path.slice(1).map((p) => legTo(this.plan, p));
    if (chosen) {
      for (const leg of legs.slice(end)) {
        if (leg) way.append(path('plan-line', leg.line.points.map(this.layout.px)));
      }
    }
    for (const kind of ['authority-line', 'authority-mark']) {
      legs.slice(0, end).forEach((leg, i) => {
        if (!leg) return;
        const line = path(kind, leg.line.points.map(this.layout.px));
        if (i === 0) firstLeg.push(line);
        way.append(line);
      });
    }
    const last = end > 0 ? legs[end - 1] : null;
    if (last) way.append(this.endOf(last, who));

    const { body, hull } = this.bodyOf(cart, who, look, down);
    const drawn = { cart, look: shown, glide, held, way, firstLeg, leg: legs[0] ?? null, body, hull };
    if (old) {
      old.held.replaceWith(held);
      old.way.replaceWith(way);
      old.body.replaceWith(body);
    } else {
      this.groups.held.append(held);
      this.groups.ways.append(way);
      this.groups.bodies.append(body);
    }
    this.drawn.set(cart.id, drawn);
    this.place(drawn);
  }

  /** A bar across the tape with the cart's number: so far may it go. */
  private endOf(leg: Leg, who: Identity): SVGGElement {
    const length = lengthOf(leg.line);
    const [x, y] = this.layout.px(placeAt(leg.line, length));
    const [bx, by] = this.layout.px(placeAt(leg.line, length - Math.min(200, length)));
    const angle = Math.atan2(y - by, x - bx);
    const g = group('authority-end');
    const across: Position = [-Math.sin(angle), Math.cos(angle)];
    g.append(
      path('authority-bar', [
        [x - across[0] * 9, y - across[1] * 9],
        [x + across[0] * 9, y + across[1] * 9],
      ]),
    );
    // The flag goes to the side, and as far out, as covers the least.
    const { signs } = this.layout;
    const places = [16, -16, 27, -27].map(
      (far): Position => [x + across[0] * far * signs, y + across[1] * far * signs],
    );
    const costs = places.map((at) => this.layout.covers(at, 8 * signs));
    const at = places[costs.indexOf(Math.min(...costs))]!;
    g.append(
      path('authority-stem', [[x, y], at]),
      circle('authority-flag', at, 7.5 * signs),
      text('authority-number', at, who.mark),
    );
    return g;
  }

  private bodyOf(cart: Cart, who: Identity, look: string, down: boolean) {
    const { length, width } = this.size();
    const body = group(`cart ${look} mode-${cart.mode}${cart.connected ? '' : ' no-link'}`, `cart-${cart.id}`);
    body.dataset['cart'] = cart.id;
    body.dataset['mode'] = cart.mode;
    body.dataset['loaded'] = String(cart.loaded);
    const title = titled(who.name);
    const hull = group('hull');
    // The nose is the pointed end, at the origin, looking along +x.
    const nose = Math.min(length * 0.22, width * 0.45);
    const hullPath = path('hull-shape', [
      [-length, -width / 2],
      [-nose, -width / 2],
      [0, 0],
      [-nose, width / 2],
      [-length, width / 2],
    ]);
    hullPath.setAttribute('d', `${hullPath.getAttribute('d')}Z`);
    hull.append(hullPath);
    const middle = group('upright');
    middle.append(circle('reach', [0, 0], fingerReach));
    if (cart.loaded) {
      const side = Math.min(length, width) * 0.92;
      middle.append(rect('load', -side / 2, -side / 2, side, side));
    }
    middle.append(text('cart-number', [0, 0], who.mark));
    const sign = signOf(cart, down);
    if (sign) {
      const at: Position = [length * 0.42 + 3, -width * 0.5 - 5];
      middle.append(circle(`sign-disc ${sign.kind}`, at, 7), text(`sign ${sign.kind}`, at, sign.text));
    }
    body.append(title, hull, middle);
    return { body, hull };
  }

  /** Size of a body on the screen, px. */
  private size(): { length: number; width: number } {
    const { scale, signs } = this.layout;
    const { length, width } = this.plan.floor.cart;
    return {
      length: Math.max(length * scale, leastLength * signs),
      width: Math.max(width * scale, leastWidth * signs),
    };
  }

  private place(drawn: Drawn): void {
    const pose = drawn.glide.pose();
    if (!pose) {
      drawn.body.setAttribute('visibility', 'hidden');
      return;
    }
    drawn.body.removeAttribute('visibility');
    const ahead = this.plan.floor.cart.reader_to_nose;
    const cos = Math.cos(pose.nose);
    const sin = Math.sin(pose.nose);
    const [x, y] = this.layout.px([pose.at[0] + cos * ahead, pose.at[1] + sin * ahead]);
    const { length } = this.size();
    const degrees = (-pose.nose * 180) / Math.PI; // the screen's y is down
    drawn.hull.setAttribute(
      'transform',
      `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${degrees.toFixed(1)})`,
    );
    const upright = drawn.body.lastElementChild as SVGGElement;
    const mx = x - (cos * length) / 2;
    const my = y + (sin * length) / 2;
    upright.setAttribute('transform', `translate(${mx.toFixed(1)} ${my.toFixed(1)})`);
    drawn.body.dataset['x'] = pose.at[0].toFixed(0);
    drawn.body.dataset['y'] = pose.at[1].toFixed(0);
    const { leg } = drawn;
    if (!leg || !drawn.firstLeg.length) return;
    const gone = Math.max(0, drawn.glide.driven);
    const share = (gone / leg.length) * lengthOf(leg.line);
    const rest =
      gone >= leg.length ? [placeOnLeg(leg, leg.length)] : part(leg.line, share, lengthOf(leg.line));
    const d = pathText(rest.map(this.layout.px));
    for (const line of drawn.firstLeg) line.setAttribute('d', d);
  }
}

/** A small sign beside the body: trouble, out of service, waiting or charging. */
function signOf(cart: Cart, down: boolean): { kind: string; text: string } | null {
  if (cart.mode === 'in_doubt') return { kind: 'bad', text: '?' };
  if (cart.mode === 'needs_release' || (cart.fault && cart.fault !== 'none')) {
    return { kind: 'bad', text: '!' };
  }
  if (!cart.connected) return { kind: 'bad', text: '×' };
  if (down) return { kind: 'wait', text: '−' };
  if (cart.mode === 'waiting') return { kind: 'wait', text: '=' };
  if (cart.mode === 'charging') return { kind: 'good', text: '+' };
  return null;
}
