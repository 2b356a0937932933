// An account of its own of what carts do: listens to /live as any client does and adds up how long each
// cart is in which state, for the service's figures to be compared with.
import { WebSocket } from './modules.mjs';

/** What a cart's time goes into, as server/net/API.md says it. */
function useOf(cart) {
  if (!cart.connected || (cart.fault && cart.fault !== 'none')) return 'out';
  const uses = { driving: 'moving', waiting: 'waiting', handling: 'handling', charging: 'charging', idle: 'idle' };
  return uses[cart.mode] ?? 'out';
}

export class Ledger {
  /** { at, cart, use }: ms of the service's clock. */
  steps = [];
  /** As told so far; a change has only what differs. */
  carts = new Map();
  latest = 0;

  constructor(url) {
    this.link = new WebSocket(new URL('/live', url.replace('http', 'ws')), 'tagline.live.1');
    this.link.on('message', (text) => {
      const message = JSON.parse(text);
      this.latest = Date.parse(message.time);
      for (const news of message.carts ?? []) {
        const cart = { ...this.carts.get(news.id), ...news };
        this.carts.set(cart.id, cart);
        this.steps.push({ at: this.latest, cart: cart.id, use: useOf(cart) });
      }
    });
  }

  close() {
    this.link.close();
  }

  /** Seconds of each use of each cart within [from, to). */
  times(from, to) {
    const times = new Map();
    const now = new Map();
    const add = (cart, until) => {
      const { at, use } = now.get(cart);
      const span = Math.min(until, to) - Math.max(at, from);
      const row = times.get(cart) ?? {};
      if (span > 0) row[use] = (row[use] ?? 0) + span / 1_000;
      times.set(cart, row);
    };
    for (const step of this.steps) {
      if (now.has(step.cart)) add(step.cart, step.at);
      now.set(step.cart, step);
    }
    for (const cart of now.keys()) add(cart, Math.max(this.latest, to));
    return times;
  }
}
