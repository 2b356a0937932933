// Alarms, first on the page when there are any: those that nobody has seen before the others. New ones
// are also spoken.
import { useEffect, useRef, useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Alarm } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import type { Store } from '../page/store.ts';
import { useSeconds } from '../page/store.ts';
import { alarmWords, spanWords } from '../words/words.ts';
import { inOrder, unseen, weight } from './order.ts';

export function AlarmList({ store }: { store: Store }) {
  useSeconds();
  const alarms = inOrder(store.board.alarms);
  const seen = alarms.length - unseen(alarms);
  const spoken = useNews(alarms);
  return (
    <>
      <p class="unseen" role="alert">
        {store.past ? '' : spoken}
      </p>
      {alarms.length > 0 && (
        <section class="panel alarms" aria-labelledby="alarms-title" data-testid="alarms">
          <h2 id="alarms-title">
            {alarms.length === 1 ? '1 alarm' : `${alarms.length} alarms`}
            {seen > 0 && `, ${seen} seen`}
          </h2>
          <ul>
            {alarms.map((alarm) => (
              <li key={alarm.id} class={classOf(alarm)} data-testid={`alarm-${alarm.id}`}>
                <strong>{alarmWords(alarm.kind)}</strong>
                <span class="alarm-text">{alarm.text}</span>
                <span class="alarm-since">{spanWords(store.now() - Date.parse(alarm.since))} ago</span>
                <Seen alarm={alarm} store={store} />
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

const classOf = (alarm: Alarm) =>
  `${weight(alarm) > 1 ? 'grave' : ''}${alarm.seen ? ' seen' : ''}`.trim();

/** Who has seen it, or the button to say that one has. */
function Seen({ alarm, store }: { alarm: Alarm; store: Store }) {
  const [asking, setAsking] = useState(false);
  if (alarm.seen) {
    return (
      <span class="alarm-seen" data-testid={`seen-by-${alarm.id}`}>
        <span aria-hidden="true">✓ </span>Seen by {alarm.seen.by}, {spanWords(store.now() - Date.parse(alarm.seen.at))} ago
      </span>
    );
  }
  if (!store.may('operator')) return null;
  const see = async () => {
    setAsking(true);
    const answer = await api.seeAlarm(alarm);
    setAsking(false);
    if (!answer.ok) store.say(false, `Not noted that you have seen it: ${answer.text}`);
  };
  return (
    <button
      onClick={() => void see()}
      disabled={asking}
      aria-label={`Seen: ${alarmWords(alarm.kind)}. ${alarm.text}`}
      title="Says with your name that you have seen it. The alarm stays until its cause is gone."
      data-testid={`see-${alarm.id}`}
    >
      Seen
    </button>
  );
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
