// A key that was just given out, with all that is typed into the cart. It is nowhere else.
import { nameOf } from '../carts/identity.ts';
import type { Store } from '../page/store.ts';
import type { GivenKey } from './office.ts';

interface Props {
  store: Store;
  given: GivenKey;
  onClose(): void;
}

export function ShownKey({ store, given: { id, key, home }, onClose }: Props) {
  const address = `${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/cart`;
  const here = /^(localhost|127\.|\[::1\])/.test(location.host);
  const file = JSON.stringify({ format: 'tagline-fleet/1', carts: [{ id, key, ...(home ? { home } : {}) }] });
  const pace = store.board.pace === 1 ? '' : ` --pace ${store.board.pace}`;
  const typed = [
    ['Name', id, 'key-id'],
    ['Key', key, 'key-text'],
    ['Address', address, 'key-address'],
  ] as const;
  return (
    <div class="notice good" data-testid="shown-key">
      <div class="made">
        <p role="status">
          <b>{nameOf(id)} has a new key. It is shown only now:</b> put these three into the cart, then put the key away.
        </p>
        {typed.map(([label, value, testId]) => (
          <div key={testId} class="field">
            <span>{label}</span>
            <pre class="typed" data-testid={testId}>{value}</pre>
          </div>
        ))}
        {here && <p>That address leads only from this machine to itself: a cart needs the one by which others reach the service.</p>}
        <p>
          Capitals and dashes count. Once it is connected, set it down over a tag and place it on <a href="/">the board</a>.
        </p>
        <details data-testid="key-virtual">
          <summary>Try it with a virtual cart</summary>
          <div class="made">
            <p>Put this into a file, {id}.json:</p>
            <pre data-testid="key-file">{file}</pre>
            {!home && <p>A virtual cart needs a home as well: add "home" with a point’s id, where it is set down.</p>}
            <p>Then, with the floor file:</p>
            <pre>{`tagline cart --floor FLOOR.json --fleet ${id}.json --url ${address}${pace}`}</pre>
          </div>
        </details>
      </div>
      <button class="quiet" onClick={onClose} data-testid="key-away">
        Put away
      </button>
    </div>
  );
}
