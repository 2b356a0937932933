// Wishes from the press of a button to the service's answer. They are kept on the phone with their
// idempotency key before anything is sent, so that a lost answer, a reload or a flat battery
// neither loses one nor makes it twice.
import { newKey, type Result, type Wish } from '../api/client.ts';
import type { Job } from '../api/types.ts';

export interface Unsent {
  key: string;
  wish: Wish;
  /** Real time of the press, ms since 1970. */
  pressed: number;
}

export interface OutboxWorld {
  send(wish: Wish, key: string): Promise<Result<Job>>;
  /** Changes what is kept, which another tab may have written; `mine` where nothing can be kept. */
  amend(mine: readonly Unsent[], change: (kept: readonly Unsent[]) => readonly Unsent[]): readonly Unsent[];
  now(): number;
  /** Drawn anew: something has changed. */
  changed(): void;
  taken(job: Job): void;
  refused(wish: Wish, text: string): void;
}

/** What was pressed longer ago is not sent by itself any more: who knows what was done by hand. */
export const freshFor = 10 * 60_000;

export class Outbox {
  private readonly sending = new Set<string>();

  constructor(
    private readonly world: OutboxWorld,
    private unsent: readonly Unsent[],
  ) {}

  all(): readonly Unsent[] {
    return this.unsent;
  }

  isSending(key: string): boolean {
    return this.sending.has(key);
  }

  isStale(one: Unsent): boolean {
    return this.world.now() - one.pressed > freshFor;
  }

  press(wish: Wish): Promise<void> {
    const one = { key: newKey(), wish, pressed: this.world.now() };
    this.change((kept) => [...kept, one]);
    return this.send(one.key);
  }

  /** Call when the link is back. */
  async sendFresh(): Promise<void> {
    this.refresh();
    for (const one of this.unsent) if (!this.isStale(one)) await this.send(one.key);
  }

  /** Always with the key of the press: the service answers a repeat with the job it has made. */
  async send(key: string): Promise<void> {
    this.refresh(); // sent or forgotten in another tab: it is not sent here
    const one = this.unsent.find((u) => u.key === key);
    if (!one || this.sending.has(key)) return;
    this.sending.add(key);
    this.world.changed();
    const answer = await this.world.send(one.wish, key);
    this.sending.delete(key);
    // Without an answer nobody knows whether it arrived: it stays.
    if (answer.ok || answer.answered) this.forget(key);
    if (answer.ok) this.world.taken(answer.value);
    else if (answer.answered) this.world.refused(one.wish, answer.text);
    this.world.changed();
  }

  forget(key: string): void {
    this.change((kept) => kept.filter((u) => u.key !== key));
  }

  /** Call when another tab has changed what is kept. */
  refresh(): void {
    this.unsent = this.world.amend(this.unsent, (kept) => kept);
  }

  private change(change: (kept: readonly Unsent[]) => readonly Unsent[]): void {
    this.unsent = this.world.amend(this.unsent, change);
    this.world.changed();
  }
}
