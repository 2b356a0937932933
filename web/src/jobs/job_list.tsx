// The queue: open jobs by age, then what ended lately.
import { useState } from 'preact/hooks';
import type { Job } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import { sortedJobs } from '../live/state.ts';
import type { Store } from '../page/store.ts';
import { useSeconds } from '../page/store.ts';
import { WhyChain } from '../why/why_chain.tsx';
import { dueWords, expectedWords, jobWords, spanWords, stateWords, stopWords } from '../words/words.ts';
import { CancelButton } from './cancel_button.tsx';

/** Ended jobs shown before "show more" is pressed. */
const endedShown = 6;

export function JobList({ store }: { store: Store }) {
  useSeconds();
  const [all, setAll] = useState(false);
  const { open, ended } = sortedJobs(store.board);
  const shown = all ? ended : ended.slice(0, endedShown);
  return (
    <section class="panel jobs" aria-labelledby="jobs-title">
      <h2 id="jobs-title">
        Jobs <span class="count">{open.length} open</span>
      </h2>
      {open.length === 0 && <p class="none">No job is open.</p>}
      <ul data-testid="jobs-open">
        {open.map((job) => (
          <JobRow key={job.id} job={job} store={store} />
        ))}
      </ul>
      {ended.length > 0 && <h3>Ended</h3>}
      <ul class="ended" data-testid="jobs-ended">
        {shown.map((job) => (
          <JobRow key={job.id} job={job} store={store} />
        ))}
      </ul>
      {ended.length > endedShown && (
        <button class="quiet" onClick={() => setAll(!all)}>
          {all ? 'Show fewer' : `Show all ${ended.length}`}
        </button>
      )}
    </section>
  );
}

function JobRow({ job, store }: { job: Job; store: Store }) {
  const due = dueWords(job, store.now());
  const stops = stopWords(job, store.plan);
  const expected = expectedWords(job, store.now(), store.plan);
  /** Something keeps it, or the cart that has it. */
  const keeps = job.why.length > 0 || (!job.ended_at && !!store.board.carts.get(job.cart ?? '')?.why.length);
  return (
    <li class={`job state-${job.state}`} data-testid={`job-${job.id}`} data-state={job.state}>
      {keeps ? (
        <button
          class="job-id quiet"
          onClick={() => store.ask({ kind: 'job', id: job.id })}
          data-testid={`ask-job-${job.id}`}
          aria-label={`Why job ${job.id} waits, and what can be done`}
        >
          {job.id}
        </button>
      ) : (
        <span class="job-id">{job.id}</span>
      )}
      <span class="job-way">
        {jobWords(job, store.plan)}
        {job.priority > 5 && <span class="tag">{job.priority >= 9 ? 'first' : 'soon'}</span>}
      </span>
      <span class="job-state">
        <span class="state-sign" aria-hidden="true" />
        {stateWords(job.state)}
        {job.cart && ', '}
        {job.cart && <span class="together">{nameOf(job.cart)}</span>}
        {age(job, store.now()).map((words) => [', ', <span class="together">{words}</span>])}
      </span>
      {stops && <span class="job-stops">{stops}</span>}
      {expected && (
        <span class="job-stops" data-testid={`expected-${job.id}`}>
          {expected}
        </span>
      )}
      {due && (
        <span class={due.late ? 'job-due late' : 'job-due'} data-testid={`due-${job.id}`}>
          {due.text}
        </span>
      )}
      {job.reason && <span class="job-why">{job.reason}</span>}
      <WhyChain why={job.why} store={store} testId={`why-job-${job.id}`} />
      {job.note && <span class="job-note">{job.note}</span>}
      <CancelButton job={job} store={store} />
    </li>
  );
}

function age(job: Job, now: number): string[] {
  const since = (moment: string) => spanWords(now - Date.parse(moment));
  if (!job.ended_at) return [`${since(job.created)} old`];
  const took = Date.parse(job.ended_at) - Date.parse(job.created);
  const ago = `${since(job.ended_at)} ago`;
  return job.state === 'delivered' ? [ago, `took ${spanWords(took)}`] : [ago];
}
