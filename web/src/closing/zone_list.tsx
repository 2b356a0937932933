// The zones of the floor: stopped by one press, released after a question.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Zone } from '../api/types.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { MiniFloor } from './mini_floor.tsx';

export function ZoneList({ store }: { store: Store }) {
  const [asked, setAsked] = useState<string | null>(null);
  const { zones } = store.board;
  if (zones.length === 0) return null;
  const zone = zones.find((z) => z.id === asked);
  const stop = async ({ id, name }: Zone) => {
    const answer = await api.stopZone(id);
    store.say(
      answer.ok,
      answer.ok
        ? `${name} is stopped. Nothing in it moves again until it is released.`
        : `${name} is not stopped: ${answer.text} Use Stop all, or the emergency stops on the carts.`,
    );
  };
  const release = async ({ id, name }: Zone) => {
    const answer = await api.releaseZone(id);
    store.say(answer.ok, answer.ok ? `${name} is released.` : `${name}: ${answer.text}`);
  };
  return (
    <section class="panel zones" aria-labelledby="zones-title" data-testid="zones">
      <h2 id="zones-title">Zones</h2>
      <p class="none">
        Stopping a zone stops every cart in it or about to enter, and lets no other in, until a person
        releases it. It is no emergency stop.
      </p>
      <ul>
        {zones.map((z) => (
          <li key={z.id} class="zone-row" data-testid={`zone-${z.id}`} data-stopped={String(z.stopped)}>
            <span class="zone-name">
              {z.name}
              {z.stopped && <span class="tag bad">stopped</span>}
            </span>
            {z.stopped && store.may('supervisor') && (
              <button class="main" onClick={() => setAsked(z.id)} aria-label={`Release ${z.name}`} data-testid={`release-zone-${z.id}`}>
                Release
              </button>
            )}
            {!z.stopped && store.may('operator') && (
              <button onClick={() => void stop(z)} aria-label={`Stop ${z.name}`} data-testid={`stop-zone-${z.id}`}>
                Stop
              </button>
            )}
          </li>
        ))}
      </ul>
      {zone && (
        <Confirm
          store={store}
          title={`Release ${zone.name}?`}
          yes="People are clear: release it"
          onYes={() => void release(zone)}
          onClose={() => setAsked(null)}
        >
          {store.plan && <MiniFloor plan={store.plan} segments={zone.segments} />}
          <p>
            The carts that were stopped with it may move at once, and others may enter. Release it only
            if you have seen that <b>people are clear</b> of this track, and that whatever caused the
            stop is over.
          </p>
        </Confirm>
      )}
    </section>
  );
}
