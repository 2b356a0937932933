// Keeps the live link to the service: connects, notices a dead link, comes back with growing
// pauses, and resumes where it was (server/net/API.md, "Live updates").
import type { LiveMessage } from '../api/types.ts';
import { apply, nothingKnown, type BoardState } from './state.ts';

/** The service sends its time every 5 s; three missing in a row mean the link is dead, ms. */
export const silenceLimit = 15_000;
const firstPause = 500;
const longestPause = 10_000;

export type LinkState =
  | { kind: 'connecting' }
  | { kind: 'live' }
  /** `since`: real time (ms since 1970) at which the link was lost. */
  | { kind: 'lost'; since: number };

/** The part of WebSocket that the link uses, so that a test can stand in for it. */
export interface Socket {
  onopen: (() => void) | null;
  onmessage: ((event: { data: unknown }) => void) | null;
  onclose: (() => void) | null;
  close(): void;
}

export interface LinkWorld {
  open(query: string): Socket;
  /** Real time, ms since 1970. */
  now(): number;
  /** Runs `what` after `ms`; the answer cancels it. */
  after(ms: number, what: () => void): () => void;
}

export interface Listener {
  /** Called for each failed try too, with the `since` of the first. */
  onLink(link: LinkState): void;
  onState(state: BoardState, message: LiveMessage): void;
}

export class LiveLink {
  private state: BoardState = nothingKnown;
  private socket: Socket | null = null;
  private link: LinkState = { kind: 'connecting' };
  private pause = firstPause;
  private lastHeard = 0;
  private cancelWatch: () => void = () => {};
  private cancelRetry: () => void = () => {};

  constructor(
    private readonly world: LinkWorld,
    private readonly listener: Listener,
  ) {}

  start(): void {
    this.connect();
  }

  /** Call when the page comes back to the front: timers may have slept meanwhile. */
  wake(): void {
    if (this.socket && this.world.now() - this.lastHeard > silenceLimit) this.lost();
    else if (!this.socket) {
      this.pause = firstPause;
      this.connect();
    }
  }

  private connect(): void {
    this.cancelRetry();
    const query =
      this.state.rev >= 0
        ? `?run=${encodeURIComponent(this.state.run)}&since=${this.state.rev}`
        : '';
    const socket = this.world.open(query);
    this.socket = socket;
    this.lastHeard = this.world.now();
    socket.onmessage = (event) => this.hear(socket, event.data);
    socket.onclose = () => {
      if (socket === this.socket) this.lost();
    };
    this.watch();
  }

  private hear(socket: Socket, data: unknown): void {
    if (socket !== this.socket) return;
    this.lastHeard = this.world.now();
    let message: LiveMessage;
    try {
      message = JSON.parse(String(data)) as LiveMessage;
    } catch {
      this.lost();
      return;
    }
    const applied = apply(this.state, message);
    if (!applied.ok) {
      // Forget where we were: the next connection asks for a snapshot.
      this.state = { ...this.state, run: '', rev: -1 };
      this.lost();
      return;
    }
    this.state = applied.state;
    this.pause = firstPause;
    if (this.link.kind !== 'live') this.say({ kind: 'live' });
    this.listener.onState(this.state, message);
  }

  private watch(): void {
    this.cancelWatch();
    const socket = this.socket;
    this.cancelWatch = this.world.after(1_000, () => {
      if (socket !== this.socket || !socket) return;
      if (this.world.now() - this.lastHeard > silenceLimit) this.lost();
      else this.watch();
    });
  }

  private lost(): void {
    const socket = this.socket;
    this.socket = null;
    this.cancelWatch();
    socket?.close();
    // Each failed try is told, not only the first: why it fails may be that the session has ended.
    this.say({ kind: 'lost', since: this.link.kind === 'lost' ? this.link.since : this.world.now() });
    const pause = this.pause * (0.75 + Math.random() * 0.5); // so that many pages do not come at once
    this.pause = Math.min(this.pause * 2, longestPause);
    this.cancelRetry();
    this.cancelRetry = this.world.after(pause, () => this.connect());
  }

  private say(link: LinkState): void {
    this.link = link;
    this.listener.onLink(link);
  }
}

/** The browser's own sockets and clock. */
export const browserWorld: LinkWorld = {
  open(query) {
    const scheme = location.protocol === 'https:' ? 'wss:' : 'ws:';
    return new WebSocket(
      `${scheme}//${location.host}/live${query}`,
      'tagline.live.1',
    ) as unknown as Socket;
  },
  now: () => Date.now(),
  after(ms, what) {
    const timer = setTimeout(what, ms);
    return () => clearTimeout(timer);
  },
};
