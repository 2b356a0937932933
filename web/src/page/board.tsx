// The board: how the parts stand on the page. Alarms first; then the floor and the carts on one
// side, what a person asks for on the other.
import { useCallback, useEffect, useState } from 'preact/hooks';
import { AlarmList } from '../alarms/alarm_list.tsx';
import { CartList } from '../carts/cart_list.tsx';
import { ClosingList } from '../closing/closing_list.tsx';
import type { Taking } from '../closing/down_question.tsx';
import { ZoneList } from '../closing/zone_list.tsx';
import { AccountBar } from '../door/account_bar.tsx';
import { FloorView } from '../floor/floor_view.tsx';
import { JobForm } from '../form/job_form.tsx';
import { JobList } from '../jobs/job_list.tsx';
import { StationList } from '../stations/station_list.tsx';
import { Header, StaleBanner } from './header.tsx';
import { NoticeBar } from './notice.tsx';
import { useStore, type Store } from './store.ts';

export function Board({ store }: { store: Store }) {
  useStore(store);
  const [taking, setTaking] = useState<Taking | null>(null);
  const alarms = store.board.alarms.length;
  const place = store.plan?.floor.name;
  useEffect(() => {
    document.title = `${alarms ? `(${alarms}) ` : ''}Tagline${place ? `, ${place}` : ''}`;
  }, [alarms, place]);
  const takeSegment = useCallback(
    (id: string) => {
      const known = store.board.downtimes.find((down) => down.segment === id);
      setTaking({ thing: { kind: 'segment', id }, ...(known && { known }) });
    },
    [store],
  );
  return (
    <>
      <Header store={store} />
      <AccountBar store={store} />
      <main class={store.link.kind === 'lost' ? 'stale' : ''}>
        <StaleBanner store={store} />
        <NoticeBar store={store} />
        <AlarmList store={store} />
        <div class="side-floor">
          <FloorView store={store} onSegment={takeSegment} />
          <Caution />
          <CartList store={store} />
          <div class="side-closing">
            <ZoneList store={store} />
            <ClosingList store={store} taking={taking} setTaking={setTaking} />
          </div>
        </div>
        <div class="side-jobs">
          {store.may('operator') && <JobForm store={store} />}
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
