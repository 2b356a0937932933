// How the works ran on a day, for a person to see where time is lost. Fetched when asked for: a day's
// figures are read in peace, and a board that changes while one reads it is of no use here.
import { useCallback, useEffect, useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Figures } from '../api/types.ts';
import { AccountBar } from '../door/account_bar.tsx';
import { Header, StaleBanner } from '../page/header.tsx';
import { NoticeBar } from '../page/notice.tsx';
import { useStore, type Store } from '../page/store.ts';
import { zonedClockWords } from '../words/words.ts';
import { CartsPanel } from './carts_panel.tsx';
import { dayOf, queryOf } from './day.ts';
import { HoursPanel } from './hours_panel.tsx';
import { LatePanel, MergesPanel, TagsPanel } from './lists.tsx';

export function FiguresPage({ store }: { store: Store }) {
  useStore(store);
  useEffect(() => {
    document.title = 'Figures, Tagline';
  }, []);
  const [day, setDay] = useState('');
  const [figures, setFigures] = useState<Figures | null>(null);
  const [trouble, setTrouble] = useState('');
  const live = store.link.kind === 'live';
  const fetchDay = useCallback(async (wanted: string) => {
    const answer = await api.figures(queryOf(wanted));
    if (answer.ok) setFigures(answer.value);
    setTrouble(answer.ok ? '' : `The figures cannot be shown: ${answer.text}`);
  }, []);
  // Which day it is, the service's clock says.
  useEffect(() => {
    if (!live || day) return;
    const today = dayOf(store.now());
    setDay(today);
    void fetchDay(today);
  }, [live, day]);
  const choose = (wanted: string) => {
    if (!wanted) return;
    setDay(wanted);
    void fetchDay(wanted);
  };
  const shown = { query: day && queryOf(day), plan: store.plan };
  return (
    <>
      <Header store={store} />
      <AccountBar store={store} />
      <main class="figures-page">
        <StaleBanner store={store} />
        <NoticeBar store={store} />
        <section class="panel figures-day" aria-labelledby="day-title">
          <h2 id="day-title">Figures of a day</h2>
          <label class="field">
            <span>Day</span>
            <input type="date" value={day} max={live ? dayOf(store.now()) : undefined} onChange={(event) => choose(event.currentTarget.value)} data-testid="day" />
          </label>
          <button onClick={() => choose(day)} disabled={!day} data-testid="anew">
            Read anew
          </button>
          <p class="none" role="status">
            {trouble || (figures ? `Read at ${zonedClockWords(Date.parse(figures.time))}, local time.` : 'The figures are being fetched.')}
          </p>
        </section>
        {figures && (
          <>
            <HoursPanel figures={figures} query={shown.query} />
            <CartsPanel figures={figures} query={shown.query} />
            <LatePanel figures={figures} {...shown} />
            <MergesPanel figures={figures} {...shown} />
            <TagsPanel figures={figures} {...shown} />
          </>
        )}
      </main>
    </>
  );
}
