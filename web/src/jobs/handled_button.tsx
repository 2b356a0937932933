// "The load is on", or off: said by whoever stands beside the cart. The cart is told and its own word
// counts, so the job goes on a moment later, when the board shows it.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Job } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import type { Store } from '../page/store.ts';
import { handlingOf } from './handling.ts';

interface Props {
  job: Job;
  /** Only for the cart that stands at this station; any, if left out. */
  here?: string;
  store: Store;
}

export function HandledButton({ job, here, store }: Props) {
  const [busy, setBusy] = useState(false);
  const cart = job.cart === null ? undefined : store.board.carts.get(job.cart);
  const handling = handlingOf(job, cart);
  if (!cart || !handling || (here !== undefined && handling.station !== here)) return null;
  if (!store.may('operator')) return null;
  const which = handling.what === 'load' ? 'on' : 'off';
  const say = async () => {
    setBusy(true);
    const answer = await api.sayHandled(job.id, handling.what);
    setBusy(false);
    store.say(answer.ok, answer.ok ? `${nameOf(cart.id)} is told that the load is ${which}.` : answer.text);
  };
  return (
    <div class="handled">
      <button disabled={busy || !cart.connected} onClick={() => void say()} data-testid={`handled-${job.id}`}>
        The load is {which}
      </button>
      <p class="card-more">
        {cart.connected
          ? `Step clear first: ${nameOf(cart.id)} drives off as soon as its way is free.`
          : `${nameOf(cart.id)} is not connected and can’t be told.`}
      </p>
    </div>
  );
}
