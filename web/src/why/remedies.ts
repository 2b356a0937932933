// What a person can do about a chain of reasons, and what will come of it: said before it is done.
// Pure: reasons and the board in, remedies out. The service decides whether it may be done
// (server/control/remedies.cpp); what it would refuse now is not offered, and why not is said.
import type { Cart, Handling, Job, Reason, Role } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import { whatFollowsBack, thingWords, type Thing } from '../closing/thing.ts';
import type { FloorPlan } from '../floor/geometry.ts';
import type { BoardState } from '../live/state.ts';

export type Act =
  | { kind: 'release' | 'place' | 'remove'; cart: string }
  | { kind: 'release_all' }
  | { kind: 'release_zone'; zone: string }
  | { kind: 'bring_up'; thing: Thing }
  | { kind: 'count_loads'; station: string }
  | { kind: 'say_handled'; job: number; what: Handling };

export interface Remedy {
  /** Of the test and the list: names the remedy and what it is about. */
  id: string;
  act: Act;
  title: string;
  /** What will come of it. */
  follows: string;
  least: Role;
}

export interface Help {
  remedies: Remedy[];
  /** What to do where no button helps. */
  advice: string[];
}

type World = Pick<BoardState, 'carts' | 'jobs' | 'downtimes' | 'zones' | 'allStopped'>;

export function helpFor(why: readonly Reason[], world: World, plan: FloorPlan | null): Help {
  const help: Help = { remedies: [], advice: [] };
  // The root first: what is done there frees everything before it.
  for (const reason of [...why].reverse()) {
    const one = helpForLink(reason, world, plan);
    for (const remedy of one.remedies) {
      if (!help.remedies.some((known) => known.id === remedy.id)) help.remedies.push(remedy);
    }
    for (const text of one.advice) if (!help.advice.includes(text)) help.advice.push(text);
  }
  return help;
}

function helpForLink(reason: Reason, world: World, plan: FloorPlan | null): Help {
  const cart = reason.cart === undefined ? undefined : world.carts.get(reason.cart);
  const none: Help = { remedies: [], advice: [] };
  switch (reason.kind) {
    case 'all_stopped':
      return { ...none, remedies: [releaseAll(world)] };
    case 'zone_stopped': {
      const zone = world.zones.find((z) => z.id === reason.zone);
      return zone ? { ...none, remedies: [releaseZone(zone.id, zone.name)] } : none;
    }
    case 'needs_release':
      if (!cart) return none;
      if (cart.trouble.includes('Release it at the cart')) {
        return { remedies: gone(cart, world), advice: [`${nameOf(cart.id)} is released at the cart itself: go there, see what is round it, and release it there.`] };
      }
      return { ...none, remedies: [release(cart, world), ...gone(cart, world)] };
    case 'in_doubt':
    case 'off_floor':
      return cart ? whereabouts(cart, world) : none;
    case 'not_connected':
      return cart
        ? { remedies: gone(cart, world), advice: [`See that ${nameOf(cart.id)} is switched on and has its network; then it goes on by itself, or says what it needs.`] }
        : none;
    case 'fault':
      return cart
        ? { remedies: gone(cart, world), advice: [`Go to ${nameOf(cart.id)}, and see to the fault. It keeps its track meanwhile.`] }
        : none;
    case 'out_of_service':
    case 'station_down':
    case 'no_way':
      return { ...none, remedies: backInService(reason, world, plan) };
    case 'station_full': {
      const { station } = reason;
      if (station === undefined) return none;
      const name = plan?.stationName(station) ?? station;
      return {
        remedies: [{
          id: `count-${station}`, act: { kind: 'count_loads', station }, least: 'operator',
          title: `Count the loads at ${name}`,
          follows: `With fewer loads than there is room for, carts come at once with the jobs that wait for ${name}.`,
        }],
        advice: [`Take a load away from ${name}, then count.`],
      };
    }
    case 'handling':
      return { remedies: sayHandled(reason, cart), advice: [`${who(reason)} goes on by itself when the load is ${reason.what === 'unload' ? 'off' : 'on'}.`] };
    case 'greetings':
      return { ...none, advice: ['See that every cart is switched on: after a restart each must first say where it is.'] };
    case 'standing_load':
      return { ...none, advice: [`Take the load off ${who(reason)}: no job knows of it.`] };
    case 'no_cart': {
      const off = [...world.carts.values()].filter((c) => c.mode === 'off_floor' && c.connected);
      return off.length
        ? { ...none, remedies: off.map(place) }
        : { ...none, advice: ['Switch a cart on and set it down on a siding, over the tag; then say where it stands.'] };
    }
    default:
      return none; // it goes on by itself
  }
}

const who = (reason: Reason) => (reason.cart === undefined ? 'The cart' : nameOf(reason.cart));

const listed = (words: readonly string[], most = 6) =>
  words.length > most ? `${words.slice(0, most).join(', ')} and ${words.length - most} more` : words.join(', ');

/** Carts that wait for track of this one, or for it to pass. */
const waitersFor = (cart: Cart, world: World) =>
  [...world.carts.values()]
    .filter((other) => other.id !== cart.id && (other.waits_for?.cart === cart.id || (other.waits_for && cart.holds.includes(other.waits_for.track))))
    .map((other) => nameOf(other.id));

function release(cart: Cart, world: World): Remedy {
  const waiters = waitersFor(cart, world);
  const then = waiters.length ? ` ${listed(waiters)} can go on after it.` : '';
  return {
    id: `release-${cart.id}`, act: { kind: 'release', cart: cart.id }, least: 'supervisor',
    title: `Release ${nameOf(cart.id)}`,
    follows: `It may move at once${endWords(cart)}.${then} People must be clear of it.`,
  };
}

function endWords(cart: Cart): string {
  const end = cart.path[cart.authority];
  return cart.authority > 0 && end ? `, as far as ${end.point}` : '';
}

function place(cart: Cart): Remedy {
  const held = cart.holds.length ? ` Of the track that it keeps now (${listed(cart.holds)}) it then keeps only what it stands on.` : '';
  return {
    id: `place-${cart.id}`, act: { kind: 'place', cart: cart.id }, least: 'supervisor',
    title: `${nameOf(cart.id)} stands at a point: say which`,
    follows: `The service believes you, and it may move at once.${held} Its reader must be over the tag of that point.`,
  };
}

/** It is off the floor, so its track is free again. */
function gone(cart: Cart, world: World): Remedy[] {
  // The service refuses it for a cart that may be driving.
  const mayDrive = cart.connected && cart.authority > 0 && cart.mode !== 'needs_release' && cart.mode !== 'in_doubt';
  if (cart.mode === 'off_floor' || (mayDrive && !world.allStopped)) return [];
  const waiters = waitersFor(cart, world);
  const drive = waiters.length ? `${listed(waiters)} may drive there at once` : 'other carts may drive there at once';
  const job = cart.job === null ? undefined : world.jobs.get(cart.job);
  return [{
    id: `remove-${cart.id}`, act: { kind: 'remove', cart: cart.id }, least: 'supervisor',
    title: `${nameOf(cart.id)} is off the floor: its track is free again`,
    follows: `${cart.holds.length ? `${listed(cart.holds)} ${cart.holds.length === 1 ? 'is' : 'are'} free, and ` : ''}${drive}.${jobGone(job)}`,
  }];
}

/** What becomes of the job of a cart that is taken off. */
function jobGone(job: Job | undefined): string {
  if (!job) return '';
  return job.state === 'loaded'
    ? ` Job ${job.id} ends as stranded: see to its load.`
    : ` Job ${job.id} waits for another cart.`;
}

function whereabouts(cart: Cart, world: World): Help {
  const advice = cart.connected ? [] : [`${nameOf(cart.id)} has no link: switch it on before you say where it stands.`];
  return { remedies: [...(cart.connected ? [place(cart)] : []), ...gone(cart, world)], advice };
}

function releaseAll(world: World): Remedy {
  const stay = [...world.carts.values()].filter((c) => c.mode === 'needs_release').map((c) => nameOf(c.id));
  return {
    id: 'release-all', act: { kind: 'release_all' }, least: 'supervisor',
    title: 'Release all carts',
    follows:
      'Every cart with leave to go may move at once. One that was stopped by itself stays so until it is released' +
      `${stay.length ? ` (now: ${listed(stay)})` : ''}. People must be clear of every cart and of the tape.`,
  };
}

const releaseZone = (id: string, name: string): Remedy => ({
  id: `release-zone-${id}`, act: { kind: 'release_zone', zone: id }, least: 'supervisor',
  title: `Release ${name}`,
  follows: 'The carts that were stopped with it may move at once, and others may enter. People must be clear of that track.',
});

/** Closed track, a closed station or the cart itself, whichever the reason is about. */
function sayHandled(reason: Reason, cart: Cart | undefined): Remedy[] {
  if (!cart?.connected || reason.job === undefined || reason.what === undefined) return [];
  const which = reason.what === 'load' ? 'on' : 'off';
  return [{
    id: `handled-${cart.id}`, act: { kind: 'say_handled', job: reason.job, what: reason.what }, least: 'operator',
    title: `The load is ${which}: tell ${nameOf(cart.id)}`,
    follows: `${nameOf(cart.id)} drives off as soon as its way is free. Somebody must have seen the load ${which} and be clear of the cart.`,
  }];
}

function backInService(reason: Reason, world: World, plan: FloorPlan | null): Remedy[] {
  const down = world.downtimes.filter((d) => d.begun);
  const segment = (id: string | undefined) =>
    id !== undefined && down.some((d) => d.segment === id) ? [{ kind: 'segment', id } as const] : [];
  let things: Thing[] = [];
  if (reason.kind === 'station_down') {
    things = down.flatMap((d) => (d.station !== undefined && d.station === reason.station ? [{ kind: 'station', id: d.station } as const] : []));
  } else if (reason.kind === 'no_way') {
    // Any closed track may be what the way is missing.
    things = down.flatMap((d) => segment(d.segment));
  } else if (reason.piece !== undefined) {
    things = segment(reason.piece);
    // A point is closed by the segment that leads to it or away.
    if (!things.length) {
      things = down.flatMap((d) => {
        const s = plan?.segments.get(d.segment ?? '');
        return s && (s.from === reason.piece || s.to === reason.piece) ? segment(s.id) : [];
      });
    }
  } else if (reason.cart !== undefined) {
    things = down.flatMap((d) => (d.cart === reason.cart && d.cart !== undefined ? [{ kind: 'cart', id: d.cart } as const] : []));
  }
  return things.map((thing) => ({
    id: `up-${thing.kind}-${thing.id}`, act: { kind: 'bring_up', thing }, least: 'supervisor',
    title: `${thingWords(thing, plan)} is free again: back into service`,
    follows: whatFollowsBack[thing.kind],
  }));
}
