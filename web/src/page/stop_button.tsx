// The button that asks every cart to stop. It asks nothing back, and stays in reach in dialogs too.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Store } from './store.ts';

export function StopButton({ store, testId }: { store: Store; testId: string }) {
  const [busy, setBusy] = useState(false);
  const stop = async () => {
    setBusy(true);
    const answer = await api.stopAll();
    setBusy(false);
    if (answer.ok) store.say(true, 'Stop sent to every cart. Nothing moves again until it is released.');
    else {
      store.say(
        false,
        `Stop all did not work: ${answer.text} Use the emergency stops on the carts.`,
      );
    }
  };
  if (!store.may('operator')) return null;
  return (
    <button
      type="button"
      class="stop"
      disabled={busy}
      onClick={() => void stop()}
      title="Asks every cart to stop over the network. It is not an emergency stop."
      data-testid={testId}
    >
      Stop all
    </button>
  );
}
