// Why something stands: the service's sentences, the first in sight, the rest down to the root
// behind it. Nothing is made up here but how long it has been, by the service's clock.
import type { Reason } from '../api/types.ts';
import type { Store } from '../page/store.ts';
import { spanWords } from '../words/words.ts';

interface Props {
  why: readonly Reason[];
  store: Store;
  testId: string;
}

export function WhyChain({ why, store, testId }: Props) {
  const [first, ...rest] = why;
  if (!first) return null;
  if (!rest.length) {
    return (
      <p class="why" data-testid={testId}>
        <ReasonLine reason={first} now={store.now()} />
      </p>
    );
  }
  return (
    <details class="why" data-testid={testId}>
      <summary>
        <ReasonLine reason={first} now={store.now()} />
      </summary>
      <ol>
        {rest.map((reason, i) => (
          <li key={i} class={i === rest.length - 1 ? 'why-root' : ''} data-kind={reason.kind}>
            <ReasonLine reason={reason} now={store.now()} />
          </li>
        ))}
      </ol>
    </details>
  );
}

/** One link, with its times. */
export function ReasonLine({ reason, now }: { reason: Reason; now: number }) {
  const times = [];
  if (reason.since) times.push(`for ${spanWords(now - Date.parse(reason.since))}`);
  if (reason.until && Date.parse(reason.until) > now) {
    times.push(`in about ${spanWords(Date.parse(reason.until) - now)}`);
  }
  if (!times.length) return <>{reason.text}</>;
  // The times end the service's sentence.
  return (
    <>
      {reason.text.replace(/\.$/, '')}, <span class="why-time together">{times.join(', ')}</span>.
    </>
  );
}
