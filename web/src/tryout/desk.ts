// What the page knows of try-outs: the one that runs, those that were done, and the one looked at.
import { Playback } from './playback.ts';
import { service, type Tryout, type Wish } from './service.ts';

/** Of what was tried out, the latest are kept to be compared. */
const kept = 12;

export interface Tried {
  wish: Wish;
  /** The drawing as it was: the object itself, so that it is known again. */
  drawing: object;
  /** "A", "B", ...: the same letter for the same drawing. */
  letter: string;
  tryout: Tryout;
  playback: Playback;
}

export interface Running {
  /** Of those asked for in one go: which one, from 1, and how many. */
  which: number;
  of: number;
  wish: Wish;
}

export class TryoutDesk {
  running: Running | null = null;
  trouble = '';
  /** Latest first. */
  tried: Tried[] = [];
  shown: Tried | null = null;
  private turn = 0;
  private readonly letters = new Map<object, string>();

  constructor(
    /** Draws the page anew. */
    private readonly changed: () => void,
    private readonly asked: Pick<typeof service, 'tryOut' | 'end' | 'endAsPageGoes'> = service,
  ) {}

  /** One after the other; what runs already is ended and these take its place. */
  async start(drawing: object, wishes: readonly Wish[]): Promise<void> {
    const turn = ++this.turn;
    this.trouble = '';
    for (const [k, wish] of wishes.entries()) {
      this.running = { which: k + 1, of: wishes.length, wish };
      this.changed();
      const answer = await this.asked.tryOut(drawing, wish);
      if (turn !== this.turn) return; // ended, or others have taken its place
      if (!answer.ok) {
        this.trouble = answer.text;
        break;
      }
      this.take(drawing, wish, answer.value);
    }
    this.running = null;
    this.changed();
  }

  private take(drawing: object, wish: Wish, tryout: Tryout): void {
    const letter = this.letters.get(drawing) ?? letterOf(this.letters.size);
    this.letters.set(drawing, letter);
    this.shown?.playback.pause();
    const tried = { wish, drawing, letter, tryout, playback: new Playback(tryout.movement) };
    const same = (one: Tried) => one.drawing === drawing && JSON.stringify(one.wish) === JSON.stringify(wish);
    this.tried = [tried, ...this.tried.filter((one) => !same(one))].slice(0, kept);
    this.shown = tried;
  }

  async end(): Promise<void> {
    this.turn += 1;
    this.running = null;
    this.changed();
    const answer = await this.asked.end();
    if (!answer.ok) this.trouble = `It may still be running: ${answer.text}`;
    this.changed();
  }

  /** The page is left. */
  leave(): void {
    if (this.running) this.asked.endAsPageGoes();
  }

  show(tried: Tried | null): void {
    this.shown?.playback.pause();
    this.shown = tried;
    this.changed();
  }
}

/** A to Z, then A2 and so on. */
const letterOf = (k: number) => String.fromCharCode(65 + (k % 26)) + (k < 26 ? '' : String(Math.floor(k / 26) + 1));
