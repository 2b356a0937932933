// The board: how the parts stand on the page. Alarms first; then the floor and the carts on one
// side, what a person asks for on the other.
import { useCallback, useEffect, useState } from 'preact/hooks';
import { AlarmList } from '../alarms/alarm_list.tsx';
import { unseen } from '../alarms/order.ts';
import { CartList } from '../carts/cart_list.tsx';
import { ClosingList } from '../closing/closing_list.tsx';
import type { Taking } from '../closing/down_question.tsx';
import { ZoneList } from '../closing/zone_list.tsx';
import { AccountBar } from '../door/account_bar.tsx';
import { useWaits, WaitsSwitch } from '../figures/waits_switch.tsx';
import { FloorView } from '../floor/floor_view.tsx';
import { JobForm } from '../form/job_form.tsx';
import { JobList } from '../jobs/job_list.tsx';
import { StationList } from '../stations/station_list.tsx';
import { pointedAtCart } from '../why/pointed.ts';
import { Standing } from '../why/standing.tsx';
import { Header, StaleBanner } from './header.tsx';
import { useLater } from './later.ts';
import { NoticeBar } from './notice.tsx';
import { useStore, type Store } from './store.ts';

export function Board({ store }: { store: Store }) {
  useStore(store);
  const later = useLater();
  const waits = useWaits(store);
  const [taking, setTaking] = useState<Taking | null>(null);
  const alarms = unseen(store.board.alarms);
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
  const pointAtCart = useCallback((id: string) => pointedAtCart(store, id), [store]);
  return (
    <>
      <Header store={store} />
      <AccountBar store={store} />
      <main class={store.link.kind === 'lost' ? 'stale' : ''}>
        <StaleBanner store={store} />
        <NoticeBar store={store} />
        <AlarmList store={store} />
        <div class="side-floor">
          <FloorView
            store={store}
            onSegment={takeSegment}
            onCart={pointAtCart}
            waits={waits.merges}
            under={<WaitsSwitch waits={waits} />}
          />
          <Caution />
          {later && <CartList store={store} />}
          {later && (
            <div class="side-closing">
              <ZoneList store={store} />
              <ClosingList store={store} taking={taking} setTaking={setTaking} />
            </div>
          )}
        </div>
        <div class="side-jobs">
          {later && store.may('operator') && <JobForm store={store} />}
          {later && <StationList store={store} />}
          {later && <JobList store={store} />}
        </div>
      </main>
      <Standing store={store} />
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
