// The wall: the floor, the alarms and a few large figures for a big screen some metres away. Nothing
// to press; whoever must act goes to the board.
import { useEffect, useState } from 'preact/hooks';
import { inOrder } from '../alarms/order.ts';
import { FloorView } from '../floor/floor_view.tsx';
import type { BoardState } from '../live/state.ts';
import { StaleBanner } from '../page/header.tsx';
import { useSeconds, useStore, type Store } from '../page/store.ts';
import { alarmWords, momentWords, spanWords, zonedClockWords } from '../words/words.ts';
import { figuresOf, hour } from './figures.ts';
import { Recent } from './recent.ts';

/** Alarms shown; the number of the others is said. */
const alarmsShown = 4;

export function WallPage({ store }: { store: Store }) {
  useStore(store);
  useSeconds();
  const [recent] = useState(() => new Recent(store));
  useEffect(() => recent.start(), [recent]);
  const { board, link, plan } = store;
  const name = plan?.floor.name ?? 'Tagline';
  useEffect(() => {
    document.title = `${name}, wall`;
  }, [name]);
  return (
    <main class={link.kind === 'lost' ? 'wall stale' : 'wall'}>
      <header class="wall-top">
        <h1>{name}</h1>
        <p class={`link ${link.kind}`} data-testid="link" data-link={link.kind}>
          <span class="link-sign" aria-hidden="true" />
          {link.kind === 'live' ? zonedClockWords(store.now()) : link.kind === 'lost' ? 'No link' : 'Connecting'}
        </p>
      </header>
      <StaleBanner store={store} />
      <State store={store} />
      <div class="wall-floor">
        <FloorView store={store} share={0.66} fixed />
      </div>
      <FigureRow recent={recent} store={store} />
      {board.alarms.length > 0 && (
        <ul class="wall-alarms" data-testid="wall-alarms">
          {inOrder(board.alarms).slice(0, alarmsShown).map((alarm) => (
            <li key={alarm.id}>
              <b>{alarmWords(alarm.kind)}.</b> {alarm.text}
              {alarm.seen && ` Seen by ${alarm.seen.by}.`}
            </li>
          ))}
          {board.alarms.length > alarmsShown && <li>and {board.alarms.length - alarmsShown} more</li>}
        </ul>
      )}
    </main>
  );
}

/** One line that says whether the floor runs, or that nobody here knows. */
function State({ store }: { store: Store }) {
  const { link, board } = store;
  if (link.kind !== 'live' || board.run === '') {
    return (
      <p class="wall-state unknown" role="status" data-testid="wall-state" data-state="unknown">
        <span aria-hidden="true">? </span>
        {link.kind === 'lost' ? `No link: not known since ${momentWords(link.since, Date.now())}` : 'Connecting'}
      </p>
    );
  }
  const trouble = troubleOf(board);
  return (
    <p class={trouble ? 'wall-state bad' : 'wall-state'} role="status" data-testid="wall-state" data-state={trouble ? 'bad' : 'good'}>
      <span aria-hidden="true">{trouble ? '! ' : '✓ '}</span>
      {trouble || 'The floor runs'}
    </p>
  );
}

/** What needs a person; "" when all is well. */
function troubleOf({ allStopped, alarms, carts, zones }: BoardState): string {
  if (allStopped) return 'All carts are stopped';
  const stopped = zones.filter((z) => z.stopped).map((z) => z.name);
  if (stopped.length) return `Stopped: ${stopped.join(', ')}`;
  const needing = [...carts.values()].filter((c) => c.mode === 'needs_release' || c.mode === 'in_doubt').length;
  if (needing) return `${needing} ${needing === 1 ? 'cart needs' : 'carts need'} a person`;
  return alarms.length ? `${alarms.length} ${alarms.length === 1 ? 'alarm' : 'alarms'}` : '';
}

function FigureRow({ recent, store }: { recent: Recent; store: Store }) {
  if (recent.knownSince === null) return <p class="none">The jobs are being fetched.</p>;
  const now = store.now();
  const f = figuresOf(recent.jobs.values(), recent.knownSince, now);
  const span = f.since > now - hour ? `since ${momentWords(f.since, now)}` : 'in the last hour';
  const figures = [
    { name: `delivered ${span}`, value: String(f.delivered), id: 'delivered' },
    { name: 'from asked to delivered, middle one', value: f.lead === null ? 'none yet' : spanWords(f.lead), id: 'lead' },
    { name: `delivered late ${span}`, value: String(f.deliveredLate), id: 'delivered-late' },
    { name: 'jobs open', value: String(f.open), id: 'open' },
    { name: 'of these overdue', value: String(f.openLate), id: 'open-late' },
  ];
  return (
    <dl class="figures" data-testid="figures">
      {figures.map(({ name, value, id }) => (
        <div key={id} class="figure">
          <dt>{name}</dt>
          <dd data-testid={`figure-${id}`}>{value}</dd>
        </div>
      ))}
    </dl>
  );
}
