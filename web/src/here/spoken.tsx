// For a screen reader: what has become of my jobs since the last word, without the running times.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Job } from '../api/types.ts';
import type { Store } from '../page/store.ts';
import { cartOfJobWords, stateWords } from '../words/words.ts';

export function Spoken({ mine, store }: { mine: readonly Job[]; store: Store }) {
  const said = useRef<ReadonlyMap<number, string> | null>(null);
  const [news, setNews] = useState('');
  const words = new Map(
    mine.map((job) => {
      const cart = job.cart === null ? undefined : store.board.carts.get(job.cart);
      return [job.id, job.ended_at ? stateWords(job.state) : cartOfJobWords(job, cart, store.plan)];
    }),
  );
  const all = [...words].join();
  useEffect(() => {
    const before = said.current;
    said.current = words;
    if (!before) return; // what was so when the page opened is no news
    const fresh = [...words].filter(([id, text]) => before.get(id) !== text);
    if (fresh.length) setNews(fresh.map(([id, text]) => `Job ${id}: ${text}.`).join(' '));
  }, [all]);
  return (
    <p class="unseen" role="status" data-testid="spoken">
      {news}
    </p>
  );
}
