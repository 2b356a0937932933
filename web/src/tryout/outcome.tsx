// What came of one try-out, in plain words and numbers with their units.
import type { Tried } from './desk.ts';
import { keptUpRule, metOf, metWords, percent, safetyWords, timeWords, waitedElsewhere, waitedFor } from './words.ts';

/** Merges named with their times; the drawing shows them all. */
const named = 5;

export function Outcome({ tried, onSheet }: { tried: Tried; onSheet: boolean }) {
  const { wish, tryout, letter } = tried;
  const { report } = tryout;
  const safety = safetyWords(report);
  const merges = waitedFor(report);
  const bound = report.bound_per_hour;
  const met = metOf(report, wish);
  return (
    <div class="tryout-outcome" data-testid="try-outcome" data-letter={letter}>
      <h3>Drawing {letter}{onSheet ? '' : ', which is not the one on the sheet any more'}</h3>
      {!onSheet && <p class="none">Undo brings it back, and its carts; or try the new drawing.</p>}
      <dl>
        <dt>Deliveries</dt>
        <dd data-testid="try-deliveries">
          {report.deliveries_per_hour.toFixed(1)} an hour
          {bound !== null && bound > 0 && `, ${percent(report.deliveries_per_hour / bound)} of the ${bound.toFixed(1)} that are possible at most`}
        </dd>
        <dt>What was asked for</dt>
        <dd data-testid="try-met" title={keptUpRule} class={met === false ? 'tryout-bad' : ''}>{metWords(report, wish)}</dd>
        <dt>From asking to delivery</dt>
        <dd data-testid="try-lead">
          {report.deliveries ? `half within ${timeWords(report.lead_time_s.p50)}, 95 of 100 within ${timeWords(report.lead_time_s.p95)}` : 'nothing was delivered'}
        </dd>
        <dt>Carts’ time</dt>
        <dd data-testid="try-share">
          waiting {percent(report.share.waiting)}, driving loaded {percent(report.share.loaded)}, empty {percent(report.share.empty)}, at stations {percent(report.share.handling)},
          charging {percent(report.share.charging)}, resting {percent(report.share.resting)}
        </dd>
        <dt>Waited where</dt>
        <dd data-testid="try-waits">
          {merges.slice(0, named).map((m) => `${m.point} ${timeWords(m.seconds)} in ${m.waits} ${m.waits === 1 ? 'wait' : 'waits'}; `)}
          elsewhere {timeWords(waitedElsewhere(report, wish))}
        </dd>
        <dt>Safety</dt>
        <dd data-testid="try-safety" class={safety.good ? '' : 'tryout-bad'}>{safety.text}</dd>
        {report.helped > 0 && (
          <>
            <dt>People</dt>
            <dd>had to help a cart {report.helped === 1 ? 'once' : `${report.helped} times`}</dd>
          </>
        )}
      </dl>
      {!safety.good && (
        <p class="outcome bad">
          {report.broken ? `${report.broken}. ` : ''}Do not publish this. “Get this as a floor file”, and run: tagline simulate FILE --carts {wish.carts} --hours {wish.hours} --seed {wish.seed}
          {wish.jobs === 'endless' ? ' --saturate' : wish.jobs === 'per_hour' ? ` --jobs-per-hour ${wish.jobs_per_hour}` : ''}; it writes down what happened.
        </p>
      )}
    </div>
  );
}
