// The carts that may connect: a builder adds one and is shown its key once, gives one a new key,
// takes one out.
import { useEffect, useState } from 'preact/hooks';
import { AccountBar } from '../door/account_bar.tsx';
import { Header } from '../page/header.tsx';
import { NoticeBar } from '../page/notice.tsx';
import { useStore, type Store } from '../page/store.ts';
import { CartRows } from './cart_rows.tsx';
import { NewCart } from './new_cart.tsx';
import { office, type FleetCart, type GivenKey } from './office.ts';
import { ShownKey } from './shown_key.tsx';

export function CartsPage({ store }: { store: Store }) {
  useStore(store);
  const [fleet, setFleet] = useState<readonly FleetCart[] | null>(null);
  const [trouble, setTrouble] = useState('');
  const [given, setGiven] = useState<GivenKey | null>(null);
  const may = store.may('builder');
  const { run } = store.board;

  const load = async () => {
    const answer = await office.fleet();
    if (answer.ok) setFleet(answer.value.carts);
    setTrouble(answer.ok ? '' : answer.text);
  };
  useEffect(() => {
    document.title = 'Carts, Tagline';
  }, []);
  // A service that was started anew may have another fleet.
  useEffect(() => {
    if (may && run) void load();
  }, [may, run]);

  const limit = store.plan?.floor.live_limit;
  return (
    <>
      <Header store={store} />
      <AccountBar store={store} />
      <main class="people">
        <NoticeBar store={store} />
        {!may && <p class="panel none" data-testid="not-yours">Builders add carts and take them out. The board shows them.</p>}
        {may && trouble && <p class="panel outcome bad" role="status" data-testid="fleet-trouble">{trouble}</p>}
        {may && given && <ShownKey store={store} given={given} onClose={() => setGiven(null)} />}
        {may && fleet && (
          <>
            <section class="panel" aria-labelledby="fleet-title" data-testid="fleet">
              <h2 id="fleet-title">Carts that may connect</h2>
              <CartRows store={store} fleet={fleet} given={setGiven} changed={() => void load()} />
              {limit && fleet.length > limit.carts && (
                <p data-testid="too-many">
                  Of these {fleet.length} carts at most {limit.carts} can be on this floor at once. {limit.reason}
                </p>
              )}
            </section>
            <NewCart store={store} fleet={fleet} given={setGiven} />
          </>
        )}
      </main>
    </>
  );
}
