// The form that queues a job: two choices and a press. The same key goes with a repeated press
// until the service has answered, so that a lost answer never makes two jobs.
import { useRef, useState } from 'preact/hooks';
import { api, newKey, type Wish } from '../api/client.ts';
import type { Stop } from '../api/types.ts';
import type { Store } from '../page/store.ts';
import { jobWords } from '../words/words.ts';
import { StopsField } from './stops_field.tsx';

const priorities = [
  { value: 2, words: 'Can wait' },
  { value: 5, words: 'As usual' },
  { value: 7, words: 'Soon' },
  { value: 9, words: 'First of all' },
];

type Outcome = { good: boolean; text: string } | null;

export function JobForm({ store }: { store: Store }) {
  const [from, setFrom] = useState('');
  const [to, setTo] = useState('');
  const [priority, setPriority] = useState(5);
  const [note, setNote] = useState('');
  const [via, setVia] = useState<readonly Stop[]>([]);
  const [due, setDue] = useState('');
  const [busy, setBusy] = useState(false);
  const [outcome, setOutcome] = useState<Outcome>(null);
  /** The wish that was sent but not answered, and its key. */
  const unanswered = useRef<{ body: string; key: string } | null>(null);
  const more = useRef<HTMLDetailsElement>(null);
  const stations = store.plan?.floor.stations ?? [];

  const submit = async (event: Event) => {
    event.preventDefault();
    if (busy) return;
    const wish: Wish = { from, to };
    if (via.length) wish.via = [...via];
    if (due) wish.due = new Date(due).toISOString();
    if (priority !== 5) wish.priority = priority;
    if (note.trim()) wish.note = note.trim();
    const body = JSON.stringify(wish);
    if (unanswered.current?.body !== body) unanswered.current = { body, key: newKey() };
    setBusy(true);
    setOutcome(null);
    const answer = await api.queueJob(wish, unanswered.current.key);
    setBusy(false);
    if (answer.ok) {
      unanswered.current = null;
      setOutcome({
        good: true,
        text: `Job ${answer.value.id} queued: ${jobWords(answer.value, store.plan)}.`,
      });
      setNote('');
      setVia([]);
      setDue('');
      return;
    }
    if (answer.answered) unanswered.current = null;
    setOutcome({
      good: false,
      text: answer.answered
        ? answer.text
        : `${answer.text} Press again when the link is back: it will not be queued twice.`,
    });
  };

  // A field that is folded away can't be shown as the one that is wrong.
  const unfold = () => {
    if (more.current) more.current.open = true;
  };

  const choice = (name: string, label: string, value: string, other: string, set: (v: string) => void) => (
    <label class="field">
      <span>{label}</span>
      <select
        name={name}
        required
        value={value}
        data-testid={`job-${name}`}
        onChange={(event) => set(event.currentTarget.value)}
      >
        <option value="">Choose a station</option>
        {stations.map((s) => (
          <option key={s.id} value={s.id} disabled={s.id === other}>
            {s.name}
          </option>
        ))}
      </select>
    </label>
  );

  return (
    <section class="panel form" aria-labelledby="form-title">
      <h2 id="form-title">Move a load</h2>
      <form onSubmit={(event) => void submit(event)} data-testid="job-form">
        {choice('from', 'From', from, to, setFrom)}
        {choice('to', 'To', to, from, setTo)}
        <details class="more" ref={more}>
          <summary>Stops, time, priority and note</summary>
          <StopsField stations={stations} stops={via} set={setVia} onInvalid={unfold} />
          <label class="field">
            <span>Due</span>
            <input
              type="datetime-local"
              name="due"
              value={due}
              onInvalid={unfold}
              onInput={(event) => setDue(event.currentTarget.value)}
            />
          </label>
          <label class="field">
            <span>Priority</span>
            <select
              name="priority"
              value={priority}
              onChange={(event) => setPriority(Number(event.currentTarget.value))}
            >
              {priorities.map((p) => (
                <option key={p.value} value={p.value}>
                  {p.words}
                </option>
              ))}
            </select>
          </label>
          <label class="field">
            <span>Note</span>
            <input
              name="note"
              maxLength={200}
              autocomplete="off"
              value={note}
              onInput={(event) => setNote(event.currentTarget.value)}
            />
          </label>
        </details>
        <button class="main wide" type="submit" disabled={busy} data-testid="job-submit">
          {busy ? 'Sending' : 'Queue job'}
        </button>
        <p
          class={`outcome ${outcome ? (outcome.good ? 'good' : 'bad') : ''}`}
          role="status"
          aria-live="polite"
          data-testid="job-result"
        >
          {outcome?.text ?? ''}
        </p>
      </form>
    </section>
  );
}
