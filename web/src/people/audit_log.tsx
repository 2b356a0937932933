// Who did what, latest first, a page at a time.
import { useCallback, useEffect, useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { AuditEntry } from '../api/types.ts';
import type { Store } from '../page/store.ts';

const atOnce = 50;

export function AuditLog({ store }: { store: Store }) {
  const [entries, setEntries] = useState<readonly AuditEntry[]>([]);
  const [more, setMore] = useState(false);
  const [trouble, setTrouble] = useState('');
  const older = useCallback(async (known: readonly AuditEntry[]) => {
    const answer = await api.audit(atOnce, known.at(-1)?.id);
    setTrouble(answer.ok ? '' : answer.text);
    if (!answer.ok) return;
    setEntries([...known, ...answer.value.entries]);
    setMore(answer.value.entries.length === atOnce);
  }, []);
  useEffect(() => void older([]), [older, store]);
  return (
    <section class="panel" aria-labelledby="audit-title" data-testid="audit">
      <h2 id="audit-title">Who did what</h2>
      {trouble && <p class="outcome bad">{trouble}</p>}
      <div class="table-frame" tabIndex={0} role="group" aria-label="The log, to be scrolled sideways">
        <table>
          <thead>
            <tr>
              <th scope="col">When</th>
              <th scope="col">Who</th>
              <th scope="col">What</th>
              <th scope="col">About</th>
              <th scope="col">Outcome</th>
              <th scope="col">From</th>
            </tr>
          </thead>
          <tbody>
            {entries.map((entry) => (
              <tr key={entry.id} data-testid={`audit-${entry.id}`}>
                <td>
                  <time dateTime={entry.time}>{stampWords(entry.time)}</time>
                </td>
                <td>{entry.who}</td>
                <td>{entry.what.replace(/_/g, ' ')}</td>
                <td>{entry.about}</td>
                <td>{entry.outcome}</td>
                <td>{entry.from_address}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <p>
        <button onClick={() => void older([])} data-testid="audit-fresh">
          Latest
        </button>{' '}
        {more && (
          <button onClick={() => void older(entries)} data-testid="audit-older">
            Older ones
          </button>
        )}
      </p>
    </section>
  );
}

/** Local time with its offset from UTC: what a log must say. */
function stampWords(time: string): string {
  return new Date(time).toLocaleString('en-GB', {
    day: '2-digit',
    month: 'short',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
    timeZoneName: 'shortOffset',
  });
}
