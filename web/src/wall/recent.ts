// The jobs of the last hour: what the service lists when the page opens, and from then on what the
// live link tells. It lists a limited number, so it may know less than an hour.
import { api } from '../api/client.ts';
import type { Job } from '../api/types.ts';
import type { Store } from '../page/store.ts';
import { hour } from './figures.ts';

/** Jobs asked for at the start: enough for an hour of a busy floor, and still a light page. */
const asked = 200;

export class Recent {
  jobs: ReadonlyMap<number, Job> = new Map();
  /** Nothing that ended before is known, ms; null until the list has come. */
  knownSince: number | null = null;
  private run = '';

  constructor(private readonly store: Store) {}

  /** Follows the live state; the answer ends that. */
  start(): () => void {
    return this.store.watchQuick(() => this.follow());
  }

  private follow(): void {
    const { board } = this.store;
    if (board.run !== this.run) {
      this.run = board.run;
      this.jobs = new Map();
      this.knownSince = null;
      void this.fetch();
    }
    const now = this.store.now();
    const kept = [...this.jobs.values(), ...board.jobs.values()].filter(
      (job) => !job.ended_at || Date.parse(job.ended_at) > now - hour,
    );
    this.jobs = new Map(kept.map((job) => [job.id, job])); // what the board says comes last, and holds
  }

  private async fetch(): Promise<void> {
    const answer = await api.jobs(asked);
    if (!answer.ok) return void (this.run = ''); // asked again with the next change
    const { jobs } = answer.value;
    this.jobs = new Map([...jobs.map((job) => [job.id, job] as const), ...this.jobs]);
    const oldest = jobs.at(-1)?.ended_at;
    this.knownSince = jobs.length < asked ? 0 : oldest ? Date.parse(oldest) : this.store.now();
    this.store.redraw();
  }
}
