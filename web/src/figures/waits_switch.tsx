// The switch under the floor that lays today's waits over it. Fetched when switched on.
import { useCallback, useEffect, useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { MergeWaits } from '../floor/waits_layer.tsx';
import type { Store } from '../page/store.ts';
import { dayOf, queryOf } from './day.ts';

/** The page's address asks for it, from the page of the figures. */
const asked = () => location.hash === '#waits';

export interface Waits {
  merges: readonly MergeWaits[] | null;
  toggle(): void;
}

export function useWaits(store: Store): Waits {
  const [merges, setMerges] = useState<readonly MergeWaits[] | null>(null);
  const show = useCallback(async () => {
    const answer = await api.figures(queryOf(dayOf(store.now())));
    if (answer.ok) setMerges(answer.value.merges);
    else store.say(false, `The waits cannot be shown: ${answer.text}`);
  }, [store]);
  const live = store.link.kind === 'live';
  const [opened, setOpened] = useState(false);
  useEffect(() => {
    if (!live || opened || !asked()) return;
    setOpened(true);
    void show();
  }, [live, opened, show]);
  return { merges, toggle: () => (merges ? setMerges(null) : void show()) };
}

export function WaitsSwitch({ waits }: { waits: Waits }) {
  const on = waits.merges !== null;
  return (
    <p class="waits-switch">
      <button aria-pressed={on} onClick={waits.toggle} data-testid="waits-switch">
        {on ? 'Hide the waits' : 'Waits for merges today'}
      </button>
      {on && !waits.merges!.some((m) => m.waited_s > 0) && <span role="status"> No cart has waited for a merge today.</span>}
    </p>
  );
}
