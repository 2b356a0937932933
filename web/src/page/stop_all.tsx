// Stop all and release all. Stopping asks nothing; releasing asks whether people are clear.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import { Confirm } from './confirm.tsx';
import { StopButton } from './stop_button.tsx';
import type { Store } from './store.ts';

export function StopAll({ store }: { store: Store }) {
  const [asking, setAsking] = useState(false);
  const release = async () => {
    const answer = await api.releaseAll();
    store.say(answer.ok, answer.ok ? 'Every cart is released.' : `Not released: ${answer.text}`);
  };

  return (
    <div class="stop-all">
      {store.board.allStopped && store.may('supervisor') && (
        <button class="main" onClick={() => setAsking(true)} data-testid="release-all">
          Release all
        </button>
      )}
      <StopButton store={store} testId="stop-all" />
      {asking && (
        <Confirm
          store={store}
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
