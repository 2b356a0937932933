// Asks who is signed in, until that is known: without it a page offers everything to everybody.
import type { Result } from '../api/client.ts';
import type { Me } from '../api/types.ts';

const firstPause = 3_000;
const longestPause = 30_000;

export interface WhoWorld {
  me(): Promise<Result<Me>>;
  after(ms: number, what: () => void): void;
  known(me: Me): void;
  /** Nobody is signed in (any more). */
  nobody(): void;
}

export class Who {
  private isKnown = false;
  private asking = 0;
  private waiting = false;
  private pause = firstPause;

  constructor(private readonly world: WhoWorld) {}

  /** Always a question of its own: whoever calls it needs an answer of now, not of an older one. */
  async ask(): Promise<void> {
    this.asking++;
    const answer = await this.world.me();
    this.asking--;
    if (answer.ok) {
      this.isKnown = true;
      this.world.known(answer.value);
    } else if (answer.status === 401) this.world.nobody();
    // Once it is known, only a lost link makes it worth asking, and the link's own tries do that.
    else if (!answer.answered && !this.isKnown) this.askLater();
  }

  /** For what comes again and again: a slow service gets no second question before its answer. */
  askUnlessAsking(): void {
    if (!this.asking) void this.ask();
  }

  private askLater(): void {
    if (this.waiting) return;
    this.waiting = true;
    this.world.after(this.pause, () => {
      this.waiting = false;
      this.askUnlessAsking();
    });
    this.pause = Math.min(this.pause * 2, longestPause);
  }
}
