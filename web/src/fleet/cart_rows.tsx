// Every cart of the fleet: where it lives, whether it is there, a new key for it, and out with it.
import { useState } from 'preact/hooks';
import { nameOf } from '../carts/identity.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { modeWords } from '../words/words.ts';
import { office, type FleetCart, type GivenKey } from './office.ts';

interface RowsProps {
  store: Store;
  fleet: readonly FleetCart[];
  given(key: GivenKey): void;
  changed(): void;
}

interface Question {
  kind: 'key' | 'revoke';
  cart: FleetCart;
}

const verbs = { key: 'New key', revoke: 'Revoke' };

export function CartRows({ store, fleet, given, changed }: RowsProps) {
  const [question, setQuestion] = useState<Question | null>(null);
  const changeKey = async ({ id, home }: FleetCart) => {
    const answer = await office.changeKey(id);
    if (answer.ok) given({ ...answer.value, home });
    else store.say(false, answer.text);
    changed();
  };
  const revoke = async ({ id }: FleetCart) => {
    const answer = await office.revoke(id);
    store.say(answer.ok, answer.ok ? `${nameOf(id)} is revoked. The service begins anew without it.` : answer.text);
  };
  return (
    <>
      <ul class="rows">
        {fleet.map((cart) => (
          <li key={cart.id} class="person" data-testid={`cart-${cart.id}`}>
            <span class="person-name">
              {nameOf(cart.id)}
              {nameOf(cart.id) !== cart.id && <span class="person-more"> {cart.id}</span>}
            </span>
            <span data-testid={`standing-${cart.id}`}>{standingWords(store, cart)}</span>
            <span class="person-more">
              {cart.home ? `lives at ${cart.home}` : 'has no home'}
              {cart.key_in_clear && '; its key can be read in the fleet file'}
            </span>
            <span class="person-actions">
              {(['key', 'revoke'] as const).map((kind) => (
                <button
                  key={kind}
                  class="quiet"
                  onClick={() => setQuestion({ kind, cart })}
                  aria-label={`${verbs[kind]}: ${nameOf(cart.id)}`}
                  data-testid={`${kind}-${cart.id}`}
                >
                  {verbs[kind]}
                </button>
              ))}
            </span>
          </li>
        ))}
      </ul>
      {question?.kind === 'key' && (
        <KeyQuestion store={store} cart={question.cart} onYes={() => void changeKey(question.cart)} onClose={() => setQuestion(null)} />
      )}
      {question?.kind === 'revoke' && (
        <RevokeQuestion store={store} cart={question.cart} onYes={() => void revoke(question.cart)} onClose={() => setQuestion(null)} />
      )}
    </>
  );
}

function standingWords(store: Store, { id }: FleetCart): string {
  const cart = store.board.carts.get(id);
  if (!cart) return 'Comes with the next run, in some seconds';
  return `${modeWords(cart, store.plan)}, ${cart.connected ? 'connected' : 'not connected'}`;
}

interface QuestionProps {
  store: Store;
  cart: FleetCart;
  onYes(): void;
  onClose(): void;
}

function KeyQuestion({ store, cart: { id }, onYes, onClose }: QuestionProps) {
  const name = nameOf(id);
  const onFloor = store.board.carts.get(id)?.mode !== 'off_floor';
  return (
    <Confirm store={store} title={`A new key for ${name}?`} yes="Give a new key" danger onYes={onYes} onClose={onClose}>
      <p>The old key ends at once, and so does the link: {name} can’t connect until the new key is in it. The new one is shown once, here.</p>
      {onFloor && (
        <p data-testid="key-on-floor">
          {name} is on the floor. It stops at the end of the track it has, and keeps that track from the others, until it
          has connected with the new key or somebody takes it off the floor.
        </p>
      )}
    </Confirm>
  );
}

function RevokeQuestion({ store, cart: { id }, onYes, onClose }: QuestionProps) {
  const name = nameOf(id);
  const cart = store.board.carts.get(id);
  const onFloor = cart !== undefined && cart.mode !== 'off_floor';
  return (
    <Confirm store={store} title={`Revoke ${name}?`} yes="Revoke it" danger notYet={onFloor} onYes={onYes} onClose={onClose}>
      {onFloor ? (
        <p data-testid="revoke-not-yet">
          Not yet: {cart.mode === 'in_doubt' ? `nobody knows where ${name} stands` : `${name} is on the floor`}. Take it off
          the tape, press Remove beside it on <a href="/">the board</a>, then revoke it here. If only its key must end now, give it a new
          one.
        </p>
      ) : (
        <p>
          Its key ends at once, and it can’t connect any more. What it did stays in the records. The service begins a new
          run without it: carts stop for some seconds and go on by themselves.
        </p>
      )}
    </Confirm>
  );
}
