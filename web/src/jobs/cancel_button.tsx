// Cancels a job, as long as its load is not on a cart.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Job } from '../api/types.ts';
import type { Store } from '../page/store.ts';

export function CancelButton({ job, store }: { job: Job; store: Store }) {
  const [busy, setBusy] = useState(false);
  if (!store.may('operator')) return null;
  if (job.state !== 'queued' && job.state !== 'assigned') return null;
  const cancel = async () => {
    setBusy(true);
    const answer = await api.cancelJob(job.id);
    setBusy(false);
    store.say(answer.ok, answer.ok ? `Job ${job.id} is cancelled.` : answer.text);
  };
  return (
    <button
      class="quiet"
      disabled={busy}
      onClick={() => void cancel()}
      aria-label={`Cancel job ${job.id}`}
      data-testid={`cancel-${job.id}`}
    >
      Cancel
    </button>
  );
}
