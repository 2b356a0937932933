// The board: how the parts stand on the page. Alarms first; then the floor and the carts on one
// side, what a person asks for on the other.
import { useEffect } from 'preact/hooks';
import { AlarmList } from '../alarms/alarm_list.tsx';
import { CartList } from '../carts/cart_list.tsx';
import { FloorView } from '../floor/floor_view.tsx';
import { JobForm } from '../form/job_form.tsx';
import { JobList } from '../jobs/job_list.tsx';
import { StationList } from '../stations/station_list.tsx';
import { Header, StaleBanner } from './header.tsx';
import { NoticeBar } from './notice.tsx';
import { useStore, type Store } from './store.ts';

export function Board({ store }: { store: Store }) {
  useStore(store);
  const alarms = store.board.alarms.length;
  const place = store.plan?.floor.name;
  useEffect(() => {
    document.title = `${alarms ? `(${alarms}) ` : ''}Tagline${place ? `, ${place}` : ''}`;
  }, [alarms, place]);
  return (
    <>
      <Header store={store} />
      <main class={store.link.kind === 'lost' ? 'stale' : ''}>
        <StaleBanner store={store} />
        <NoticeBar store={store} />
        <AlarmList store={store} />
        <div class="side-floor">
          <FloorView store={store} />
          <Caution />
          <CartList store={store} />
        </div>
        <div class="side-jobs">
          <JobForm store={store} />
          <StationList store={store} />
          <JobList store={store} />
        </div>
      </main>
    </>
  );
}

function Caution() {
  return (
    <p class="caution" data-testid="caution">
      <strong>Traffic coordination, not a safety function.</strong> People are protected by each cart's
      own bumper, scanner and emergency stop. Follow local codes and a competent person.
    </p>
  );
}
