// Stop all and release all. Stopping asks nothing; releasing asks whether people are clear.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import { Confirm } from './confirm.tsx';
import type { Store } from './store.ts';

export function StopAll({ store }: { store: Store }) {
  const [asking, setAsking] = useState(false);
  const [busy, setBusy] = useState(false);
  const stopped = store.board.allStopped;

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
  const release = async () => {
    const answer = await api.releaseAll();
    store.say(answer.ok, answer.ok ? 'Every cart is released.' : `Not released: ${answer.text}`);
  };

  return (
    <div class="stop-all">
      {stopped && (
        <button class="main" onClick={() => setAsking(true)} data-testid="release-all">
          Release all
        </button>
      )}
      <button
        class="stop"
        disabled={busy}
        onClick={() => void stop()}
        title="Asks every cart to stop over the network. It is not an emergency stop."
        data-testid="stop-all"
      >
        {stopped ? 'Stop all again' : 'Stop all'}
      </button>
      {asking && (
        <Confirm
          title="Release all carts?"
          yes="People are clear: release all"
          onYes={() => void release()}
          onClose={() => setAsking(false)}
        >
          <p>
            Carts may move at once. Release only if you have seen that <b>people are clear</b> of every
            cart and of the tape, and that whatever caused the stop is over.
          </p>
        </Confirm>
      )}
    </div>
  );
}
