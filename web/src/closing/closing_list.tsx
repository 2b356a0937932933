// What is out of service, now or planned, in a list: since when, why, whether clear, and back again.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Downtime } from '../api/types.ts';
import { Confirm } from '../page/confirm.tsx';
import { useSeconds, type Store } from '../page/store.ts';
import { DownQuestion, type Taking } from './down_question.tsx';
import { spanOfDowntime, stateOfDowntime, thingOf, thingWords, whatFollowsBack, type Thing } from './thing.ts';

interface Props {
  store: Store;
  /** What a person is about to take out of service; it may have been pointed at on the floor. */
  taking: Taking | null;
  setTaking(taking: Taking | null): void;
}

export function ClosingList({ store, taking, setTaking }: Props) {
  useSeconds();
  const [back, setBack] = useState<Thing | null>(null);
  const { downtimes } = store.board;

  const bringUp = async (thing: Thing) => {
    const answer = await api.bringUp(thing.kind, thing.id);
    const name = thingWords(thing, store.plan);
    store.say(answer.ok, answer.ok ? `${name} is back in service.` : `${name}: ${answer.text}`);
  };

  return (
    <section class="panel closing" aria-labelledby="closing-title" data-testid="closing">
      <h2 id="closing-title">
        Out of service <span class="count">{downtimes.length}</span>
      </h2>
      {downtimes.length === 0 && <p class="none">Everything is in service.</p>}
      <ul>
        {downtimes.map((down) => {
          const thing = thingOf(down);
          return (
            <DowntimeRow
              key={`${thing.kind}-${thing.id}`}
              down={down}
              store={store}
              onBack={() => setBack(thing)}
              onChange={() => setTaking({ thing, known: down })}
            />
          );
        })}
      </ul>
      {store.may('supervisor') && (
        <button onClick={() => setTaking({ thing: null })} data-testid="take-out">
          Take out of service
        </button>
      )}
      {taking && store.may('supervisor') && (
        <DownQuestion
          key={`${taking.thing?.kind} ${taking.thing?.id}`}
          store={store}
          start={taking}
          onClose={() => setTaking(null)}
        />
      )}
      {back && (
        <Confirm
          store={store}
          title={`Bring ${thingWords(back, store.plan).replace(/^Segment/, 'segment')} back into service?`}
          yes="Back into service"
          onYes={() => void bringUp(back)}
          onClose={() => setBack(null)}
        >
          <p>{whatFollowsBack[back.kind]}</p>
        </Confirm>
      )}
    </section>
  );
}

interface RowProps {
  down: Downtime;
  store: Store;
  onBack(): void;
  onChange(): void;
}

function DowntimeRow({ down, store, onBack, onChange }: RowProps) {
  const thing = thingOf(down);
  const name = thingWords(thing, store.plan);
  const state = stateOfDowntime(down);
  const id = `${thing.kind}-${thing.id}`;
  const backWords = down.begun ? 'Back into service' : 'Drop the plan';
  return (
    <li class="downtime" data-testid={`down-${id}`} data-begun={String(down.begun)}>
      <span class="downtime-name">
        {name} <span class={state.settled ? 'tag' : 'tag wait'}>{state.text}</span>
      </span>
      <span class="downtime-more">{spanOfDowntime(down, store.now())}</span>
      {down.reason && <span class="downtime-more job-note">{down.reason}</span>}
      {store.may('supervisor') && (
        <span class="downtime-actions">
          <button class="quiet" onClick={onChange} aria-label={`Change what is said about ${name}`} data-testid={`change-${id}`}>
            Change
          </button>
          <button class="quiet" onClick={onBack} aria-label={`${backWords}: ${name}`} data-testid={`up-${id}`}>
            {backWords}
          </button>
        </span>
      )}
    </li>
  );
}
