// The panel of the drawing page that tries the drawn floor out: what to try, what runs, what came of
// it, and those before it to be compared.
import { useEffect, useState } from 'preact/hooks';
import type { TryoutDesk } from './desk.ts';
import { Outcome } from './outcome.tsx';
import type { Jobs, Wish } from './service.ts';
import { TriedTable } from './tried_table.tsx';
import { cartsWords, wishWords } from './words.ts';

interface Props {
  desk: TryoutDesk;
  /** The floor file as it is drawn. */
  drawing: object;
  /** Jobs an hour that the floor file asks for; 0: none. */
  demand: number;
  /** Carts with which the drawn floor stays live; null: not known yet. */
  most: number | null;
  /** Why carts must not run on it. */
  against: string;
}

const hours = [1, 4, 8];
const mostJobs = 1_000;

export function TryoutPanel({ desk, drawing, demand, most, against }: Props) {
  const [wanted, setCarts] = useState(3);
  const [long, setLong] = useState(4);
  const [jobs, setJobs] = useState<Jobs>('demand');
  const [perHour, setPerHour] = useState(20);
  const [seed, setSeed] = useState(1);

  useEffect(() => {
    const leaving = () => desk.leave();
    window.addEventListener('pagehide', leaving);
    return () => window.removeEventListener('pagehide', leaving);
  }, [desk]);

  const carts = Math.min(wanted, Math.max(1, most ?? wanted));
  const kind = jobs === 'demand' && demand === 0 ? 'endless' : jobs;
  const wish: Wish = { carts, hours: long, seed, jobs: kind, ...(kind === 'per_hour' ? { jobs_per_hour: perHour } : {}) };
  const upTo = Array.from({ length: carts }, (_, k): Wish => ({ ...wish, carts: k + 1 }));
  const { running, trouble, shown } = desk;
  const start = (event: Event, wishes: readonly Wish[]) => {
    event.preventDefault();
    const form = (event.currentTarget as Element).closest('form')!;
    if (form.reportValidity()) void desk.start(drawing, wishes);
  };
  return (
    <section class="panel tryout" aria-labelledby="tryout-title" data-testid="tryout">
      <h2 id="tryout-title">Try-out</h2>
      <p class="none">
        The drawn floor at work with simulated carts, far faster than in truth. Nothing is saved, published or moved.
      </p>
      <form class="tryout-form" onSubmit={(event) => start(event, [wish])}>
        <NumberChoice label={most === null ? 'Carts' : `Carts, at most ${most}`} value={carts} least={1} most={Math.max(1, most ?? 100)} testId="try-carts" set={setCarts} />
        <label class="field">
          <span>How long</span>
          <select value={long} data-testid="try-hours" onChange={(event) => setLong(Number(event.currentTarget.value))}>
            {hours.map((h) => (
              <option key={h} value={h}>{h} h of the works</option>
            ))}
          </select>
        </label>
        <label class="field">
          <span>Jobs</span>
          <select value={kind} data-testid="try-jobs" onChange={(event) => setJobs(event.currentTarget.value as Jobs)}>
            {demand > 0 && <option value="demand">{`The floor’s demand: ${Number(demand.toFixed(1))} an hour`}</option>}
            <option value="endless">A queue that is never empty</option>
            <option value="per_hour">So many an hour</option>
          </select>
        </label>
        {kind === 'per_hour' && <NumberChoice label="Jobs an hour" value={perHour} least={1} most={mostJobs} testId="try-per-hour" set={setPerHour} />}
        <NumberChoice label="Seed; the same gives the same" value={seed} least={0} most={1_000_000_000} testId="try-seed" set={setSeed} />
        <div class="tryout-actions">
          <button type="submit" class="main" disabled={!!against} data-testid="try">
            {running ? 'Try this instead' : 'Try it out'}
          </button>
          <button type="button" disabled={!!against || carts < 2} onClick={(event) => start(event, upTo)} data-testid="try-all">
            Compare 1 to {carts}
          </button>
          {running && <button type="button" onClick={() => void desk.end()} data-testid="try-end">Cancel</button>}
        </div>
      </form>
      <p role="status" class={trouble || against ? 'outcome bad' : 'none'} data-testid="try-state">
        {running
          ? `Trying ${cartsWords(running.wish.carts)} for ${running.wish.hours} h${running.of > 1 ? `, ${running.which} of ${running.of}` : ''} …`
          : trouble || against || (shown ? `Tried: ${wishWords(shown.wish)}.` : '')}
      </p>
      {shown && <Outcome tried={shown} onSheet={shown.drawing === drawing} />}
      {desk.tried.length > 0 && <TriedTable desk={desk} drawing={drawing} />}
    </section>
  );
}

function NumberChoice(props: { label: string; value: number; least: number; most: number; testId: string; set(value: number): void }) {
  const { label, value, least, most, testId, set } = props;
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="number"
        required
        min={least}
        max={most}
        step={1}
        value={value}
        data-testid={testId}
        onInput={(event) => {
          if (event.currentTarget.validity.valid) set(event.currentTarget.valueAsNumber);
        }}
      />
    </label>
  );
}
