// The second tap: where to, or where from. One press on a station sends the wish; those used last
// from here come first.
import { useEffect, useRef } from 'preact/hooks';
import type { Station } from '../api/types.ts';
import { recall, remember } from '../page/memory.ts';
import { StopButton } from '../page/stop_button.tsx';
import type { Store } from '../page/store.ts';

export type Direction = 'send' | 'fetch';

interface Props {
  store: Store;
  here: Station;
  direction: Direction;
  onChoose(station: string): void;
  onClose(): void;
}

export function StationChoice({ store, here, direction, onChoose, onClose }: Props) {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const element = dialog.current;
    if (element && !element.open) element.showModal();
    return () => element?.close();
  }, []);
  const used = usedLast(here.id, direction);
  // Two stations at one point are one place: there is no way between them.
  const others = (store.plan?.floor.stations ?? []).filter((s) => s.point !== here.point);
  const rank = (s: Station) => (used.includes(s.id) ? used.indexOf(s.id) : used.length);
  const sorted = [...others].sort((a, b) => rank(a) - rank(b));

  const choose = (id: string) => {
    remember(nameOf(here.id, direction), [id, ...used.filter((u) => u !== id)]);
    onChoose(id);
    onClose();
  };

  return (
    <dialog class="choice" ref={dialog} aria-labelledby="choice-title" onClose={onClose} data-testid="choice">
      <h2 id="choice-title">
        {direction === 'send' ? `From ${here.name} to` : `To ${here.name} from`}
      </h2>
      <ul>
        {sorted.map((s) => (
          <li key={s.id}>
            <button onClick={() => choose(s.id)} data-testid={`choose-${s.id}`}>
              {s.name}
            </button>
          </li>
        ))}
      </ul>
      <div class="buttons">
        <StopButton store={store} testId="stop-all-in-dialog" />
        <button class="quiet" onClick={onClose} data-testid="choice-no">
          Go back
        </button>
      </div>
    </dialog>
  );
}

const nameOf = (here: string, direction: Direction) => `used.${direction}.${here}`;
const usedLast = (here: string, direction: Direction) => recall<string[]>(nameOf(here, direction), []);
