// The board as it was: floor, carts, jobs and alarms of a past moment with the reasons as they were, and
// the slider that chooses the moment. Marked as the past, and without anything that acts.
import { useCallback, useEffect } from 'preact/hooks';
import { AlarmList } from '../alarms/alarm_list.tsx';
import { CartList } from '../carts/cart_list.tsx';
import { AccountBar } from '../door/account_bar.tsx';
import { FloorView } from '../floor/floor_view.tsx';
import { JobList } from '../jobs/job_list.tsx';
import { NoticeBar } from '../page/notice.tsx';
import { useSeconds, useStore } from '../page/store.ts';
import { pointedAtCart } from '../why/pointed.ts';
import { Standing } from '../why/standing.tsx';
import { spanAt, wholeMoment } from './moments.ts';
import type { PastStore } from './past_store.ts';
import { TimeBar } from './time_bar.tsx';

export function PastPage({ store }: { store: PastStore }) {
  useStore(store);
  const name = store.plan?.floor.name;
  useEffect(() => {
    document.title = `Past${name ? `, ${name}` : ''}, Tagline`;
  }, [name]);
  const pointAtCart = useCallback((id: string) => pointedAtCart(store, id), [store]);
  return (
    <>
      <header class="top past-top">
        <div class="top-name">
          <h1>Tagline</h1>
          <span class="top-floor">{name ?? ''}</span>
        </div>
        <a class="to-board" href="/">
          To the board
        </a>
      </header>
      <AccountBar store={store} />
      <PastSign store={store} />
      <main class={store.shown ? 'past' : 'past not-shown'}>
        <NoticeBar store={store} />
        <TimeBar store={store} />
        <AlarmList store={store} />
        <div class="side-floor">
          <FloorView store={store} onCart={pointAtCart} />
          <CartList store={store} />
        </div>
        <div class="side-jobs">
          <JobList store={store} />
        </div>
      </main>
      <Standing store={store} />
    </>
  );
}

/** What nobody can overlook: this is not now. */
function PastSign({ store }: { store: PastStore }) {
  useSeconds();
  const at = store.now();
  const running = spanAt(store.spans, at);
  return (
    <section class="past-sign" aria-label="Which moment this is" data-testid="past-sign">
      <strong>PAST</strong>
      <span class="past-moment" data-testid="past-moment">{at ? wholeMoment(at) : 'no moment chosen yet'}</span>
      <span>
        {store.shown && !running
          ? 'The service was not running then. This is how it had stood last.'
          : 'This is how it was, not how it is. Nothing can be stopped or released here.'}
      </span>
    </section>
  );
}
