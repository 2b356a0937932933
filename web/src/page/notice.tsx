// What the last press came to, said and shown at one place.
import { useEffect } from 'preact/hooks';
import type { Store } from './store.ts';

/** Good news leaves by itself; bad news stays until it is put away, ms. */
const goodStays = 8_000;

export function NoticeBar({ store }: { store: Store }) {
  const { notice } = store;
  useEffect(() => {
    if (!notice?.good) return;
    const timer = setTimeout(() => store.hush(), goodStays);
    return () => clearTimeout(timer);
  }, [notice]);
  return (
    <div class="notice-place" role="status" aria-live="polite">
      {notice && (
        <div class={`notice ${notice.good ? 'good' : 'bad'}`} data-testid="notice">
          <p>{notice.text}</p>
          <button class="quiet" onClick={() => store.hush()}>
            Put away
          </button>
        </div>
      )}
    </div>
  );
}
