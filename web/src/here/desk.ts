// What this phone has asked for: the wishes on their way out and the jobs made of them, both kept
// over a reload and brought up to date from the live state.
import { api } from '../api/client.ts';
import type { Job } from '../api/types.ts';
import { amend, recall, watchKept } from '../page/memory.ts';
import type { Store } from '../page/store.ts';
import { placesWords } from '../words/words.ts';
import { lostSight, merged, refreshed, same, withNew } from './mine.ts';
import { Outbox, type Unsent } from './outbox.ts';

/** Between two tries of a wish that got no answer, ms. */
const retryPause = 5_000;

export class Desk {
  readonly outbox: Outbox;
  private jobs: readonly Job[] = recall<Job[]>('jobs', []);
  private wasLive = false;
  /** Run of the service in which lost jobs have been asked after. */
  private askedIn = '';

  constructor(private readonly store: Store) {
    this.outbox = new Outbox(
      {
        send: (wish, key) => api.queueJob(wish, key),
        amend: (mine, change) => amend('unsent', mine, change),
        now: () => Date.now(),
        changed: () => store.redraw(),
        taken: (job) => this.change((jobs) => withNew(jobs, job)),
        refused: (wish, text) => store.say(false, `${placesWords(wish, store.plan)}: ${text}`),
      },
      recall<Unsent[]>('unsent', []),
    );
  }

  mine(): readonly Job[] {
    return this.jobs;
  }

  /** Follows the live state; the answer ends that. */
  start(): () => void {
    const stop = this.store.watchQuick(() => this.follow());
    // The live link may stand while an answer was lost or refused for the moment.
    const timer = setInterval(() => {
      if (this.store.link.kind === 'live') void this.outbox.sendFresh();
    }, retryPause);
    const others = [
      watchKept('unsent', () => {
        this.outbox.refresh();
        this.store.redraw();
      }),
      watchKept('jobs', () => this.change((jobs) => jobs)),
    ];
    return () => {
      stop();
      for (const end of others) end();
      clearInterval(timer);
    };
  }

  private follow(): void {
    const { board, link } = this.store;
    const live = link.kind === 'live';
    if (live && !this.wasLive) void this.outbox.sendFresh();
    this.wasLive = live;
    // While the link is down another tab may know better.
    if (live && refreshed(this.jobs, board.jobs) !== this.jobs) this.change((jobs) => refreshed(jobs, board.jobs));
    if (live && board.run !== this.askedIn && board.rev >= 0) {
      this.askedIn = board.run;
      for (const job of lostSight(this.jobs, board.jobs)) void this.askAfter(job);
    }
  }

  private async askAfter(job: Job): Promise<void> {
    const answer = await api.job(job.id);
    if (answer.ok) this.change((jobs) => refreshed(jobs, new Map([[job.id, answer.value]])));
    // Another data folder: that job is not known there and never will be.
    const gone = answer.ok ? answer.value.created !== job.created : answer.status === 404;
    if (gone) this.change((jobs) => jobs.filter((j) => !same(j, job)));
  }

  private change(change: (jobs: readonly Job[]) => readonly Job[]): void {
    const before = this.jobs;
    amend('jobs', before, (kept) => {
      const known = merged(kept, before);
      this.jobs = change(known);
      return this.jobs === known ? kept : this.jobs;
    });
    if (this.jobs !== before) this.store.redraw();
  }
}
