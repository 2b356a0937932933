// Alarms, first on the page when there are any. New ones are also spoken.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Alarm } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import type { Store } from '../page/store.ts';
import { useSeconds } from '../page/store.ts';
import { alarmWords, spanWords } from '../words/words.ts';

export function AlarmList({ store }: { store: Store }) {
  useSeconds();
  const alarms = [...store.board.alarms].sort(
    (a, b) => weight(b) - weight(a) || b.since.localeCompare(a.since),
  );
  const spoken = useNews(alarms);
  return (
    <>
      <p class="unseen" role="alert">
        {spoken}
      </p>
      {alarms.length > 0 && (
        <section class="panel alarms" aria-labelledby="alarms-title" data-testid="alarms">
          <h2 id="alarms-title">
            {alarms.length === 1 ? '1 alarm' : `${alarms.length} alarms`}
          </h2>
          <ul>
            {alarms.map((alarm) => (
              <li key={alarm.id} class={weight(alarm) > 1 ? 'grave' : ''} data-testid={`alarm-${alarm.id}`}>
                <strong>{alarmWords(alarm.kind)}</strong>
                <span class="alarm-text">{alarm.text}</span>
                <span class="alarm-since">{spanWords(store.now() - Date.parse(alarm.since))} ago</span>
                {alarm.cart && (
                  <a href={`#row-${alarm.cart}`} onClick={() => store.choose(alarm.cart)}>
                    See {nameOf(alarm.cart)}
                  </a>
                )}
              </li>
            ))}
          </ul>
        </section>
      )}
    </>
  );
}

/** What stands still until a person acts comes before what can wait. */
function weight(alarm: Alarm): number {
  if (alarm.kind === 'all_stopped') return 3;
  const canWait = ['missed_tag', 'unknown_tag', 'battery_low'];
  return canWait.includes(alarm.kind) ? 1 : 2;
}

/** The text of alarms that were not there before. */
function useNews(alarms: Alarm[]): string {
  const known = useRef(new Set<number>());
  const [news, setNews] = useState('');
  const ids = alarms.map((a) => a.id).join(' ');
  useEffect(() => {
    const fresh = alarms.filter((a) => !known.current.has(a.id));
    known.current = new Set(alarms.map((a) => a.id));
    if (fresh.length) setNews(fresh.map((a) => `${alarmWords(a.kind)}. ${a.text}`).join(' '));
  }, [ids]);
  return news;
}
