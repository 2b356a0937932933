// Everything the page knows, in one place: the live state, the link, the floor, what a person has
// chosen, and what the last press came to. Views read it and are drawn anew when it changes.
import { useEffect, useState } from 'preact/hooks';
import { api, pass } from '../api/client.ts';
import type { Me, Role } from '../api/types.ts';
import { signInPath } from '../door/back.ts';
import { reaches } from '../door/me.ts';
import { Who } from '../door/who.ts';
import { planOf, type FloorPlan } from '../floor/geometry.ts';
import { ServiceClock } from '../live/clock.ts';
import { browserWorld, LiveLink, type LinkState } from '../live/link.ts';
import { nothingKnown, type BoardState } from '../live/state.ts';

/** Lists are drawn anew at most this often, ms: calm to read, however busy the floor. */
const listPause = 120;
const floorRetry = 3_000;

export interface Notice {
  good: boolean;
  text: string;
  /** Tells two equal notices apart. */
  count: number;
}

/** A cart or a job that a person asks about. */
export type Subject = { kind: 'cart'; id: string } | { kind: 'job'; id: number };

export class Store {
  /** Nothing can be done to what is shown: it was so, and is no more. */
  readonly past: boolean = false;
  board: BoardState = nothingKnown;
  link: LinkState = { kind: 'connecting' };
  plan: FloorPlan | null = null;
  floorError = '';
  /** The cart whose whole way is shown on the floor. */
  chosen: string | null = null;
  notice: Notice | null = null;
  /** Grows when what is shown jumps to another moment: then nothing glides over from before. */
  scene = 0;
  /** Why does it stand, and what can be done? */
  asked: Subject | null = null;
  readonly clock = new ServiceClock();
  /** Who is signed in; null while that isn't known, and where the service has no door. */
  me: Me | null = null;

  private readonly who = new Who({
    me: () => api.me(),
    after: (ms, what) => void setTimeout(what, ms),
    known: (me) => {
      pass.csrf = me.csrf;
      this.me = me;
      this.changed();
    },
    nobody: () => pass.turnedAway(),
  });
  private readonly watchers = new Set<() => void>();
  private readonly quick = new Set<() => void>();
  private pending = false;
  /** Of what lists have been told to draw. */
  version = 0;
  private drawn = -Infinity;

  /** Done once the floor is there, or can't be had. */
  start(): Promise<void> {
    this.atDoor();
    const floor = this.loadFloor();
    const link = new LiveLink(browserWorld, {
      onLink: (state) => {
        this.link = state;
        // A session that has ended closes the link; so does a service that restarts with other rules.
        if (state.kind === 'lost') this.who.askUnlessAsking();
        this.changed();
      },
      onState: (state, message) => {
        const fresh = state.run !== this.board.run && this.board.run !== '';
        this.board = state;
        this.clock.pace = state.pace;
        this.clock.hear(Date.parse(message.time), performance.now());
        if (fresh) void this.loadFloor(); // the service was started anew, maybe with another floor
        this.changed();
      },
    });
    link.start();
    const wake = () => {
      if (!document.hidden) link.wake();
    };
    document.addEventListener('visibilitychange', wake);
    window.addEventListener('online', wake);
    return floor;
  }

  /** Service time, ms since 1970. */
  now(): number {
    return this.clock.now(performance.now());
  }

  /** Whether whoever is here may do what that role may; a service without a door lets all do all. */
  may(role: Role): boolean {
    return this.me === null || reaches(this.me.role, role);
  }

  choose(cart: string | null): void {
    this.chosen = cart;
    this.changed();
  }

  ask(about: Subject | null): void {
    this.asked = about;
    this.changed();
  }

  say(good: boolean, text: string): void {
    this.notice = { good, text, count: (this.notice?.count ?? 0) + 1 };
    this.changed();
  }

  hush(): void {
    this.notice = null;
    this.changed();
  }

  /** What a view knows beside the store has changed. */
  redraw(): void {
    this.changed();
  }

  /** Lists: told with a pause in between. */
  watch(what: () => void): () => void {
    this.watchers.add(what);
    return () => this.watchers.delete(what);
  }

  /** The drawing: told at once. */
  watchQuick(what: () => void): () => void {
    this.quick.add(what);
    return () => this.quick.delete(what);
  }

  protected changed(): void {
    for (const what of this.quick) what();
    if (this.pending) return;
    this.pending = true;
    // At once after a pause: whoever waits for the page, or has pressed something, sees it.
    const rest = this.drawn + listPause - performance.now();
    setTimeout(() => {
      this.pending = false;
      this.drawn = performance.now();
      this.version++;
      for (const what of this.watchers) what();
    }, Math.max(0, rest));
  }

  /** Who is signed in is asked; whoever is not, is led to the sign-in page. */
  protected atDoor(): void {
    pass.turnedAway = () => location.assign(signInPath(location));
    pass.renew = () => this.who.ask();
    void this.who.ask();
  }

  private async loadFloor(): Promise<void> {
    const answer = await api.floor();
    if (answer.ok) {
      this.plan = planOf(answer.value);
      this.floorError = '';
    } else {
      this.floorError = `The floor cannot be shown: ${answer.text}`;
      setTimeout(() => void this.loadFloor(), floorRetry);
    }
    this.changed();
  }
}

/** Draws the calling view anew when the store changes. */
export function useStore(store: Store): void {
  const [, redraw] = useState(0);
  const drawn = store.version;
  useEffect(() => {
    // What changed between drawing and now was told to nobody here.
    if (store.version !== drawn) redraw((n) => n + 1);
    return store.watch(() => redraw((n) => n + 1));
  }, [store]);
}

/** Draws the calling view anew every second, for ages and clocks. */
export function useSeconds(): void {
  const [, redraw] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => redraw((n) => n + 1), 1_000);
    return () => clearInterval(timer);
  }, []);
}
