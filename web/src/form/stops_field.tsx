// The stops between the first and the last, in turn: what is done there, where, and a way to take
// one out again.
import type { Handling, Station, Stop } from '../api/types.ts';
import { handlingWords } from '../words/words.ts';

/** As many as the service takes (server/net/API.md). */
const mostStops = 8;
const handlings: readonly Handling[] = ['unload', 'load'];

interface Props {
  stations: readonly Station[];
  stops: readonly Stop[];
  set(stops: readonly Stop[]): void;
  onInvalid(): void;
}

export function StopsField({ stations, stops, set, onInvalid }: Props) {
  const change = (at: number, more: Partial<Stop>) =>
    set(stops.map((stop, i) => (i === at ? { ...stop, ...more } : stop)));
  return (
    <fieldset class="between-stops">
      <legend>Stops in between</legend>
      {stops.map((stop, i) => (
        <div class="between" key={i}>
          <select
            aria-label={`Stop ${i + 1}, what`}
            value={stop.what}
            data-testid={`stop-what-${i}`}
            onChange={(event) => change(i, { what: event.currentTarget.value as Handling })}
          >
            {handlings.map((what) => (
              <option key={what} value={what}>
                {handlingWords(what)}
              </option>
            ))}
          </select>
          <select
            required
            aria-label={`Stop ${i + 1}, station`}
            value={stop.station}
            data-testid={`stop-station-${i}`}
            onInvalid={onInvalid}
            onChange={(event) => change(i, { station: event.currentTarget.value })}
          >
            <option value="">Where</option>
            {stations.map((s) => (
              <option key={s.id} value={s.id}>
                {s.name}
              </option>
            ))}
          </select>
          <button
            type="button"
            class="quiet stop-out"
            title="Leave this stop out"
            aria-label={`Leave out stop ${i + 1}`}
            data-testid={`stop-out-${i}`}
            onClick={() => set(stops.filter((_, k) => k !== i))}
          >
            &#x2715;
          </button>
        </div>
      ))}
      {stops.length < mostStops && (
        <button
          type="button"
          class="quiet"
          data-testid="stop-add"
          // By turns, as a load is put down and another one taken up.
          onClick={() => set([...stops, { station: '', what: handlings[stops.length % 2]! }])}
        >
          Add a stop
        </button>
      )}
    </fieldset>
  );
}
