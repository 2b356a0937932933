// The questions before a person's word about a cart is passed on: release, place, remove. Each says
// what will follow, since the service believes what the person says.
import { useMemo, useState } from 'preact/hooks';
import { api, type Result } from '../api/client.ts';
import type { Cart } from '../api/types.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { byId } from '../words/order.ts';
import { cameFromChoices } from './came_from.ts';

export interface Question {
  kind: 'release' | 'place' | 'remove';
  cart: string;
}

interface Props {
  store: Store;
  question: Question;
  cart: Cart;
  name: string;
  /** What will come of it here and now, where that is known. */
  follows?: string;
  act(name: string, what: string, asking: Promise<Result<Cart>>): Promise<void>;
  onClose(): void;
}

export function CartQuestion(props: Props) {
  switch (props.question.kind) {
    case 'release':
      return <Release {...props} />;
    case 'place':
      return <Place {...props} />;
    case 'remove':
      return <Remove {...props} />;
  }
}

function Release({ store, cart, name, follows, act, onClose }: Props) {
  return (
    <Confirm
      store={store}
      title={`Release ${name}?`}
      yes={`Release ${name}`}
      onYes={() => void act(name, 'is released', api.releaseCart(cart.id))}
      onClose={onClose}
    >
      {cart.trouble && <p>{cart.trouble}</p>}
      {follows && <p data-testid="follows">{follows}</p>}
      <p>It may move at once. Release it only if you have seen that people are clear of it.</p>
    </Confirm>
  );
}

function Remove({ store, cart, name, follows, act, onClose }: Props) {
  const [seen, setSeen] = useState(false);
  return (
    <Confirm
      store={store}
      title={`Take ${name} off the floor?`}
      yes={`${name} is off the floor`}
      danger
      notYet={!seen}
      onYes={() => void act(name, 'is taken off; its track is free', api.removeCart(cart.id))}
      onClose={onClose}
    >
      <p>
        Its track becomes free at once and <b>other carts may drive there</b>. Say so only if it is
        really off the tape, with its load.
      </p>
      {follows && <p data-testid="follows">{follows}</p>}
      <label class="check">
        <input
          type="checkbox"
          checked={seen}
          onChange={(event) => setSeen(event.currentTarget.checked)}
          data-testid="seen-off"
        />
        I have seen that {name} is off the tape.
      </label>
    </Confirm>
  );
}

function Place({ store, cart, name, follows, act, onClose }: Props) {
  const { plan } = store;
  const [point, setPoint] = useState('');
  const [cameFrom, setCameFrom] = useState('');
  const points = useMemo(
    () => [...(plan?.floor.points ?? [])].sort((a, b) => byId(a.id, b.id)),
    [plan],
  );
  const choices = plan && point ? cameFromChoices(plan.floor, point) : [];
  const from = choices.length === 1 ? choices[0]! : cameFrom;
  const label = (id: string) => {
    const station = plan?.stationAt.get(id);
    return station ? `${id} (${station})` : id;
  };
  return (
    <Confirm
      store={store}
      title={`Where does ${name} stand?`}
      yes={`${name} stands there`}
      notYet={!point || !from}
      onYes={() => void act(name, `is placed at ${label(point)}`, api.placeCart(cart.id, point, from))}
      onClose={onClose}
    >
      <label class="field">
        <span>At the tag of point</span>
        <select
          value={point}
          data-testid="place-point"
          onChange={(event) => {
            setPoint(event.currentTarget.value);
            setCameFrom('');
          }}
        >
          <option value="">Choose a point</option>
          {points.map((p) => (
            <option key={p.id} value={p.id}>
              {label(p.id)}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>Its tail points to where it came from</span>
        <select
          value={from}
          disabled={choices.length < 2}
          data-testid="place-from"
          onChange={(event) => setCameFrom(event.currentTarget.value)}
        >
          <option value="">{point && !choices.length ? 'No tape leads there' : 'Choose a point'}</option>
          {choices.map((id) => (
            <option key={id} value={id}>
              {label(id)}
            </option>
          ))}
        </select>
      </label>
      {follows && <p data-testid="follows">{follows}</p>}
      <p>
        The service will believe you and <b>the cart may move at once</b>. Its reader must be over that
        tag, its nose along the tape, and people clear of it.
      </p>
    </Confirm>
  );
}
