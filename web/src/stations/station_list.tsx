// Stations where loads are counted: how many stand there, and a person's word for it.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Station } from '../api/types.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { loadWords } from '../words/words.ts';

/** The service takes no larger count (server/net/API.md). */
const mostLoads = 1_000;

export function StationList({ store }: { store: Store }) {
  const [asked, setAsked] = useState<string | null>(null);
  const stations = [...store.board.stations.values()];
  if (stations.length === 0) return null;
  const station = asked === null ? undefined : store.board.stations.get(asked);
  return (
    <section class="panel stations" aria-labelledby="stations-title" data-testid="stations">
      <h2 id="stations-title">Loads at stations</h2>
      <ul>
        {stations.map((s) => (
          <StationRow
            key={s.id}
            station={s}
            onCount={store.may('operator') ? () => setAsked(s.id) : null}
          />
        ))}
      </ul>
      {station && <Count key={station.id} station={station} store={store} onClose={() => setAsked(null)} />}
    </section>
  );
}

function StationRow({ station, onCount }: { station: Station; onCount: (() => void) | null }) {
  const loads = station.loads ?? 0;
  const capacity = station.capacity ?? 0;
  return (
    <li class="station-row" data-testid={`station-${station.id}`}>
      <span class="station-name">{station.name}</span>
      <span class="station-loads">
        <meter min="0" max={capacity} value={loads} aria-label={`Loads at ${station.name}`} />
        {loadWords(loads, capacity)}
        {loads >= capacity && <span class="tag">full</span>}
      </span>
      {onCount && (
        <button
          class="quiet"
          onClick={onCount}
          aria-label={`Count the loads at ${station.name}`}
          data-testid={`count-${station.id}`}
        >
          Count
        </button>
      )}
    </li>
  );
}

/** The question how many stand there. */
export function Count({ station, store, onClose }: { station: Station; store: Store; onClose(): void }) {
  const [text, setText] = useState(String(station.loads ?? 0));
  const loads = /^\d{1,4}$/.test(text) ? Number(text) : mostLoads + 1;
  const count = async () => {
    const answer = await api.countLoads(station.id, loads);
    store.say(
      answer.ok,
      answer.ok ? `${station.name} has ${loadWords(loads, station.capacity ?? 0)}.` : answer.text,
    );
  };
  return (
    <Confirm
      store={store}
      title={`How many loads stand at ${station.name}?`}
      yes="That many stand there"
      notYet={loads > mostLoads}
      onYes={() => void count()}
      onClose={onClose}
    >
      <label class="field">
        <span>Loads</span>
        <input
          type="number"
          inputMode="numeric"
          min="0"
          max={mostLoads}
          value={text}
          data-testid="count-loads"
          onInput={(event) => setText(event.currentTarget.value)}
        />
      </label>
      <p>
        Room for {station.capacity}. Jobs that bring a load here wait while it is full, so count what
        you see: whoever takes a load away by hand says so here.
      </p>
    </Confirm>
  );
}
