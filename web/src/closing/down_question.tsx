// The question before something goes out of service: what, from when, until when, why; and what
// follows. Said again about the same thing, it replaces what was said.
import { useState } from 'preact/hooks';
import { api, type DownWish, type ThingKind } from '../api/client.ts';
import type { Downtime } from '../api/types.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { byId } from '../words/order.ts';
import { localInput } from '../words/words.ts';
import { MiniFloor } from './mini_floor.tsx';
import { thingWords, whatFollows, type Thing } from './thing.ts';

/** What the question starts with: a thing that was pointed at, and what is said about it already. */
export interface Taking {
  thing: Thing | null;
  known?: Downtime;
}

const kinds: readonly { kind: ThingKind; words: string }[] = [
  { kind: 'segment', words: 'A segment of tape' },
  { kind: 'station', words: 'A station' },
  { kind: 'cart', words: 'A cart' },
];
const anHour = 3_600_000;

interface Props {
  store: Store;
  start: Taking;
  onClose(): void;
}

export function DownQuestion({ store, start, onClose }: Props) {
  const { known } = start;
  const planned = known && !known.begun;
  const [kind, setKind] = useState<ThingKind>(start.thing?.kind ?? 'segment');
  const [id, setId] = useState(start.thing?.id ?? '');
  const [later, setLater] = useState(!!planned);
  const [from, setFrom] = useState(() => localInput(planned ? Date.parse(known.from) : store.now() + anHour));
  const [until, setUntil] = useState(() => (known?.until ? localInput(Date.parse(known.until)) : ''));
  const [reason, setReason] = useState(known?.reason ?? '');
  const { plan } = store;
  const name = thingWords({ kind, id }, plan);

  const take = async () => {
    const wish: DownWish = {};
    if (reason.trim()) wish.reason = reason.trim();
    if (later) wish.from = new Date(from).toISOString();
    if (until) wish.until = new Date(until).toISOString();
    const answer = await api.takeDown(kind, id, wish);
    const said = later ? `${name} is planned to go out of service.` : `${name} is out of service.`;
    store.say(answer.ok, answer.ok ? said : `${name}: ${answer.text}`);
  };

  return (
    <Confirm
      store={store}
      title={id ? `Take ${name.replace(/^Segment/, 'segment')} out of service?` : 'Take what out of service?'}
      yes={later ? 'Plan it' : 'Take it out of service'}
      notYet={!id || (later && !from)}
      onYes={() => void take()}
      onClose={onClose}
    >
      {!start.thing && (
        <label class="field">
          <span>What</span>
          <select
            value={kind}
            data-testid="down-kind"
            onChange={(event) => {
              setKind(event.currentTarget.value as ThingKind);
              setId('');
            }}
          >
            {kinds.map((k) => (
              <option key={k.kind} value={k.kind}>
                {k.words}
              </option>
            ))}
          </select>
        </label>
      )}
      {!start.thing && (
        <label class="field">
          <span>Which</span>
          <select
            value={id}
            data-testid="down-which"
            onChange={(event) => setId(event.currentTarget.value)}
          >
            <option value="">Choose</option>
            {choices(kind, store).map((choice) => (
              <option key={choice} value={choice}>
                {thingWords({ kind, id: choice }, plan)}
              </option>
            ))}
          </select>
        </label>
      )}
      {plan && kind !== 'cart' && id && (
        <MiniFloor
          plan={plan}
          segments={kind === 'segment' ? [id] : []}
          point={kind === 'station' ? plan.floor.stations.find((s) => s.id === id)?.point : undefined}
        />
      )}
      <p data-testid="what-follows">{whatFollows[kind]}</p>
      <fieldset class="when">
        <legend>From</legend>
        <label class="check">
          <input type="radio" name="when" checked={!later} onChange={() => setLater(false)} data-testid="down-now" />
          Now
        </label>
        <label class="check">
          <input type="radio" name="when" checked={later} onChange={() => setLater(true)} data-testid="down-later" />
          Later
        </label>
        {later && (
          <input
            type="datetime-local"
            aria-label="Out of service from"
            value={from}
            data-testid="down-from"
            onInput={(event) => setFrom(event.currentTarget.value)}
          />
        )}
      </fieldset>
      <label class="field">
        <span>Expected back (may stay empty)</span>
        <input
          type="datetime-local"
          value={until}
          data-testid="down-until"
          onInput={(event) => setUntil(event.currentTarget.value)}
        />
      </label>
      <label class="field">
        <span>Why (may stay empty)</span>
        <input
          maxLength={200}
          autocomplete="off"
          value={reason}
          data-testid="down-reason"
          onInput={(event) => setReason(event.currentTarget.value)}
        />
      </label>
      <p>It stays out of service until a person brings it back, whatever is expected.</p>
    </Confirm>
  );
}

const inOrder = (ids: string[]) => ids.sort(byId);

function choices(kind: ThingKind, store: Store): string[] {
  const floor = store.plan?.floor;
  if (kind === 'cart') return inOrder([...store.board.carts.keys()]);
  if (kind === 'station') return floor?.stations.map((s) => s.id) ?? [];
  return inOrder(floor?.segments.map((s) => s.id) ?? []);
}
