// One job as its operator sees it: which way, what the cart does now, why it waits, and cancel.
// Times are the service's; where it tells none, none is shown.
import type { Job } from '../api/types.ts';
import { CancelButton } from '../jobs/cancel_button.tsx';
import { HandledButton } from '../jobs/handled_button.tsx';
import type { Store } from '../page/store.ts';
import { WhyChain } from '../why/why_chain.tsx';
import { cartOfJobWords, endedWords, expectedWords, placesWords, spanWords, stopWords } from '../words/words.ts';
import type { Desk } from './desk.ts';
import type { Unsent } from './outbox.ts';

export function JobCard({ job, here, store }: { job: Job; here: string; store: Store }) {
  const cart = job.cart === null || job.ended_at ? undefined : store.board.carts.get(job.cart);
  const stops = job.ended_at ? '' : stopWords(job, store.plan);
  const expected = expectedWords(job, store.now(), store.plan);
  const way = wayWords(job, here, store);
  return (
    <li class={`card state-${job.state}`} data-testid={`card-${job.id}`} data-state={job.state}>
      <p class="card-way">
        {way} <span class="card-id">job {job.id}</span>
      </p>
      <p class="card-state" data-testid={`card-state-${job.id}`}>
        <span class="state-sign" aria-hidden="true" />
        {job.ended_at ? endedWords(job, store.now()) : cartOfJobWords(job, cart, store.plan)}
      </p>
      {expected && (
        <p class="card-more" data-testid={`card-expected-${job.id}`}>
          {expected}
        </p>
      )}
      {stops && <p class="card-more">{stops}</p>}
      {job.reason && <p class="card-more why">{job.reason}</p>}
      <WhyChain why={job.why.length ? job.why : standing(cart?.why)} store={store} testId={`card-why-${job.id}`} />
      {job.note && <p class="card-more job-note">{job.note}</p>}
      <HandledButton job={job} here={here} store={store} />
      <CancelButton job={job} store={store} />
    </li>
  );
}

/** "To Packing" for what leaves here, "From Casting" for what comes, else both. */
function wayWords(job: Job, here: string, store: Store): string {
  const name = (id: string) => store.plan?.stationName(id) ?? id;
  if (job.from === here) return `To ${name(job.to)}`;
  if (job.to === here) return `From ${name(job.from)}`;
  return placesWords(job, store.plan);
}

/** A cart at work says what it does in the line above already. */
const standing = (why: Job['why'] | undefined) =>
  why?.length === 1 && why[0]!.kind === 'handling' ? [] : (why ?? []);

export function UnsentCard({ one, desk, store }: { one: Unsent; desk: Desk; store: Store }) {
  const { outbox } = desk;
  const sending = outbox.isSending(one.key);
  const stale = outbox.isStale(one);
  return (
    <li class="card unsent" data-testid="unsent">
      <p class="card-way">{placesWords(one.wish, store.plan)}</p>
      {sending ? (
        <p class="card-state">Sending</p>
      ) : (
        <>
          <p class="card-state">
            Maybe not sent: no answer came. Pressed {spanWords(Date.now() - one.pressed)} ago.
          </p>
          <p class="card-more">
            {stale
              ? 'That is a while ago, so it is not sent by itself any more. '
              : 'It is sent again by itself when the link is back. '}
            However often it is sent, it makes one job.
          </p>
          <div class="buttons">
            <button onClick={() => void outbox.send(one.key)} data-testid="send-again">
              Send now
            </button>
            <button class="quiet" onClick={() => outbox.forget(one.key)} data-testid="forget">
              Forget it
            </button>
          </div>
        </>
      )}
    </li>
  );
}
