// Chooses the moment: a slider over the last hours or days, steps, playing on, and the alarms of the
// run to jump to.
import { useState } from 'preact/hooks';
import { nameOf } from '../carts/identity.ts';
import { useSeconds } from '../page/store.ts';
import { alarmWords } from '../words/words.ts';
import { rangeOf, wholeMoment, windows, within, type Range } from './moments.ts';
import type { PastStore } from './past_store.ts';

const steps = [
  { ms: -60_000, words: '−1 min' },
  { ms: -10_000, words: '−10 s' },
  { ms: 10_000, words: '+10 s' },
  { ms: 60_000, words: '+1 min' },
];
const speeds = [1, 10, 60];
/** Alarms listed to jump to, the latest. */
const alarmsListed = 20;
/** Before an alarm: one sees how it came about, ms. */
const leadIn = 5_000;

export function TimeBar({ store }: { store: PastStore }) {
  useSeconds();
  const [chosen, setChosen] = useState(1);
  const whole = rangeOf(store.spans, Infinity);
  const range = rangeOf(store.spans, windows[chosen]!.ms);
  if (!range || !whole) {
    return (
      <section class="panel time" aria-label="Moment">
        <p role="status" data-testid="past-trouble">{store.trouble || 'The journal is being read.'}</p>
      </section>
    );
  }
  const at = store.now();
  // A moment before the window widens it: it must be seen where one is.
  const seen: Range = { from: Math.min(range.from, at), to: range.to };
  return (
    <section class="panel time" aria-label="Moment">
      <div class="time-top">
        <label class="field">
          <span>Slider over</span>
          <select value={chosen} data-testid="window" onChange={(event) => setChosen(Number(event.currentTarget.value))}>
            {windows.map(({ name }, i) => (
              <option key={name} value={i}>{name}</option>
            ))}
          </select>
        </label>
        <div class="time-steps" role="group" aria-label="Step">
          {steps.map(({ ms, words }) => (
            <button key={ms} data-testid={`step${ms / 1_000}`} onClick={() => store.goTo(store.now() + ms)}
              disabled={ms < 0 ? at <= whole.from : at >= whole.to}>
              {words}
            </button>
          ))}
        </div>
        <div class="time-steps" role="group" aria-label="Play">
          {speeds.map((speed) => (
            <button key={speed} data-testid={`play-${speed}`} aria-pressed={store.speed === speed} disabled={!store.shown}
              onClick={() => store.play(store.speed === speed ? 0 : speed)}>
              {store.speed === speed ? 'Pause' : `Play ${speed}×`}
            </button>
          ))}
        </div>
      </div>
      <input
        type="range"
        min={seen.from}
        max={seen.to}
        step={1_000}
        value={within(at, seen)}
        aria-label="Moment shown"
        aria-valuetext={wholeMoment(at)}
        data-testid="slider"
        onInput={(event) => store.goTo(Number(event.currentTarget.value))}
      />
      <Marks store={store} range={seen} />
      <p class="time-ends">
        <span>{wholeMoment(seen.from)}</span>
        <span>{wholeMoment(seen.to)}</span>
      </p>
      <p class="time-trouble" role="status" data-testid="past-trouble">
        {store.trouble || (store.working ? 'This moment is being worked out.' : '')}
      </p>
      <AlarmJumps store={store} range={seen} />
    </section>
  );
}

/** Under the slider: where something is known, and where alarms were raised. */
function Marks({ store, range }: { store: PastStore; range: Range }) {
  const share = (ms: number) => (100 * (within(ms, range) - range.from)) / Math.max(1, range.to - range.from);
  const inside = store.marks.filter((alarm) => {
    const since = Date.parse(alarm.since);
    return since >= range.from && since <= range.to;
  });
  return (
    <svg class="time-marks" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true" data-testid="marks">
      {store.spans.filter((span) => span.to >= range.from).map((span) => (
        <rect key={span.run} class="time-known" x={share(span.from)} y="0" height="4" width={Math.max(0.2, share(span.to) - share(span.from))} />
      ))}
      {inside.map((alarm) => (
        <rect key={alarm.id} class="time-alarm" data-alarm={alarm.id} x={share(Date.parse(alarm.since)) - 0.15} y="3" width="0.3" height="9" />
      ))}
    </svg>
  );
}

function AlarmJumps({ store, range }: { store: PastStore; range: Range }) {
  const listed = store.marks
    .filter((alarm) => Date.parse(alarm.since) >= range.from)
    .slice(-alarmsListed)
    .reverse();
  if (!listed.length) return null;
  return (
    <details data-testid="alarm-jumps">
      <summary>{listed.length === 1 ? '1 alarm of this run' : `The latest ${listed.length} alarms of this run`}</summary>
      <ul class="alarm-jumps">
        {listed.map((alarm) => {
          const since = Date.parse(alarm.since);
          return (
            <li key={alarm.id}>
              <button class="quiet" onClick={() => store.goTo(since - leadIn)} data-testid={`jump-${alarm.id}`}>
                {wholeMoment(since)}
              </button>{' '}
              {alarmWords(alarm.kind)}
              {alarm.cart && `, ${nameOf(alarm.cart)}`}
            </li>
          );
        })}
      </ul>
    </details>
  );
}
