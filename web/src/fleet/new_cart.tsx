// One more cart: its name, and where it lives.
import { useState } from 'preact/hooks';
import { nameOf } from '../carts/identity.ts';
import type { Store } from '../page/store.ts';
import { office, type FleetCart, type GivenKey } from './office.ts';

interface Props {
  store: Store;
  fleet: readonly FleetCart[];
  given(key: GivenKey): void;
}

export function NewCart({ store, fleet, given }: Props) {
  const [typed, setTyped] = useState<string | null>(null);
  const [home, setHome] = useState('');
  const [trouble, setTrouble] = useState('');
  const [busy, setBusy] = useState(false);
  const id = typed ?? nextId(fleet);
  const submit = async (event: Event) => {
    event.preventDefault();
    if (busy) return;
    setBusy(true);
    const answer = await office.add(id, home);
    setBusy(false);
    setTrouble(answer.ok ? '' : answer.text);
    if (!answer.ok) return;
    given(answer.value);
    store.say(true, `${nameOf(id)} is added. The service begins anew with it.`);
    setTyped(null);
    setHome('');
  };
  const taken = new Set(fleet.map((cart) => cart.home));
  const free = (store.plan?.floor.points ?? []).filter((point) => point.tagged && !taken.has(point.id));
  const choices = (siding: boolean) =>
    free.filter((point) => point.siding === siding).map(({ id: point }) => <option key={point} value={point}>{point}</option>);
  return (
    <section class="panel" aria-labelledby="new-cart-title">
      <h2 id="new-cart-title">Add a cart</h2>
      <form class="columns" onSubmit={(event) => void submit(event)}>
        <label class="field">
          <span>Name: letters, digits, - and _</span>
          <input
            required maxLength={32} pattern="[A-Za-z0-9_\-]+" autocomplete="off" value={id} data-testid="new-cart-id"
            onInput={(event) => setTyped(event.currentTarget.value)}
          />
        </label>
        <label class="field">
          <span>Home, where it stands when it has nothing to do</span>
          <select value={home} data-testid="new-cart-home" onChange={(event) => setHome(event.currentTarget.value)}>
            <option value="">None</option>
            <optgroup label="Sidings">{choices(true)}</optgroup>
            <optgroup label="Other points with a tag">{choices(false)}</optgroup>
          </select>
        </label>
        <button class="main" type="submit" disabled={busy} data-testid="add-cart">
          Add it
        </button>
        <p class="outcome bad" role="alert" data-testid="new-cart-trouble">
          {trouble}
        </p>
      </form>
      <p class="person-more">
        The service begins a new run to take it up: carts that drive stop for some seconds and go on by themselves.
        {store.me?.demo && ' In this demo no virtual cart comes with it: one is started by the command that is shown with its key.'}
      </p>
    </section>
  );
}

/** After cart-1 to cart-5: cart-6. */
function nextId(fleet: readonly FleetCart[]): string {
  const numbers = fleet.map(({ id }) => Number(/^cart-(\d+)$/.exec(id)?.[1] ?? 0));
  return `cart-${Math.max(0, ...numbers) + 1}`;
}
