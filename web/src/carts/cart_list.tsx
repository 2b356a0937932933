// The carts in words: what each does, why it stands, and what a person can do about it.
import { useState } from 'preact/hooks';
import { api, type Result } from '../api/client.ts';
import type { Cart } from '../api/types.ts';
import type { Store } from '../page/store.ts';
import { useSeconds } from '../page/store.ts';
import { WhyChain } from '../why/why_chain.tsx';
import { faultWords, jobWords, modeWords, spanWords } from '../words/words.ts';
import { CartQuestion, type Question } from './cart_questions.tsx';
import { identify, type Identity } from './identity.ts';

export function CartList({ store }: { store: Store }) {
  useSeconds();
  const [question, setQuestion] = useState<Question | null>(null);
  const { carts } = store.board;
  const identities = identify([...carts.keys()]);
  const asked = question && carts.get(question.cart);

  const act = async (name: string, what: string, asking: Promise<Result<Cart>>) => {
    const answer = await asking;
    store.say(answer.ok, answer.ok ? `${name} ${what}.` : `${name}: ${answer.text}`);
  };

  return (
    <section class="panel carts" aria-labelledby="carts-title">
      <h2 id="carts-title">
        Carts <span class="count">{carts.size}</span>
      </h2>
      {carts.size === 0 && <p class="none">No cart is known yet.</p>}
      <ul>
        {[...identities].map(([id, who]) => (
          <CartRow
            key={id}
            cart={carts.get(id)!}
            who={who}
            store={store}
            ask={(kind) => setQuestion({ kind, cart: id })}
            stop={() => void act(who.name, 'is told to stop', api.stopCart(id))}
          />
        ))}
      </ul>
      {question && asked && (
        <CartQuestion
          question={question}
          cart={asked}
          name={identities.get(question.cart)?.name ?? question.cart}
          store={store}
          act={act}
          onClose={() => setQuestion(null)}
        />
      )}
    </section>
  );
}

/** A root that the mode's own words say already: for some it remains to say how long. */
const timedByMode = new Set(['handling', 'resting', 'charging']);
const saidByMode = new Set(['off_floor', 'needs_release', 'in_doubt']);

interface RowProps {
  cart: Cart;
  who: Identity;
  store: Store;
  ask(kind: Question['kind']): void;
  stop(): void;
}

function CartRow({ cart, who, store, ask, stop }: RowProps) {
  const { id } = cart;
  const job = cart.job === null ? undefined : store.board.jobs.get(cart.job);
  const chosen = store.chosen === id;
  const out = store.board.downtimes.find((down) => down.cart === id);
  const since = cart.why[0]?.since;
  const alone = cart.why.length === 1 ? cart.why[0]!.kind : '';
  /** Letting a cart move, or saying where it stands, is for who answers for the floor. */
  const answers = store.may('supervisor');
  const onFloor = cart.mode !== 'off_floor';
  const trouble = [cart.trouble, faultWords(cart.fault)].filter(Boolean).join(' ');
  return (
    <li
      id={`row-${id}`}
      tabIndex={-1}
      class={`cart-row mode-${cart.mode} ${chosen ? 'chosen' : ''}`}
      data-testid={`row-${id}`}
      data-mode={cart.mode}
    >
      <button
        class="cart-name"
        aria-pressed={chosen}
        title="Show its whole way on the floor"
        onClick={() => store.choose(chosen ? null : id)}
      >
        <svg class={`badge hue-${who.hue} pattern-${who.pattern}`} width="40" height="34" viewBox="0 0 40 34" aria-hidden="true">
          <path class="hull-shape" d="M1 1H31L39 12L31 23H1Z" />
          <text class="cart-number" x="17" y="12">
            {who.mark}
          </text>
          <path class="authority-line" d="M1 30H39" />
          <path class="authority-mark" d="M1 30H39" />
        </svg>
        {who.name}
      </button>
      <span class="cart-mode">
        {modeWords(cart, store.plan)}
        {since && timedByMode.has(alone) && (
          <>
            {', '}
            <span class="together">{spanWords(store.now() - Date.parse(since))}</span>
          </>
        )}
        {cart.loaded && <span class="tag">load on</span>}
        {out && <span class="tag wait">{out.begun ? 'out of service' : 'to go out of service'}</span>}
        {!cart.connected && <span class="tag bad">no link</span>}
      </span>
      <span class="cart-battery">
        <meter min="0" max="100" low={25} high={60} optimum={100} value={cart.battery} aria-label="Battery" />
        {cart.battery} %
      </span>
      <span class="cart-what">
        {cart.job !== null && (
          <span>
            Job {cart.job}
            {job && `: ${jobWords(job, store.plan)}`}
          </span>
        )}
        {!timedByMode.has(alone) && !saidByMode.has(alone) && (
          <WhyChain why={cart.why} store={store} testId={`why-${id}`} />
        )}
        {trouble && <span class="cart-trouble">{trouble}</span>}
      </span>
      <span class="cart-actions">
        {cart.why.length > 0 && (
          <button
            class="quiet"
            onClick={() => store.ask({ kind: 'cart', id })}
            data-testid={`ask-${id}`}
            aria-label={`Why ${who.name} stands, and what can be done`}
          >
            Why?
          </button>
        )}
        {answers && cart.mode === 'needs_release' && (
          <button class="main" onClick={() => ask('release')} data-testid={`release-${id}`}>
            Release
          </button>
        )}
        {store.may('operator') && onFloor && cart.mode !== 'needs_release' && (
          <button onClick={stop} data-testid={`stop-${id}`} aria-label={`Stop ${who.name}`}>
            Stop
          </button>
        )}
        {answers && (
          <button class="quiet" onClick={() => ask('place')} data-testid={`place-${id}`} aria-label={`Place ${who.name}`}>
            Place
          </button>
        )}
        {answers && onFloor && (
          <button class="quiet" onClick={() => ask('remove')} data-testid={`remove-${id}`} aria-label={`Remove ${who.name}`}>
            Remove
          </button>
        )}
      </span>
    </li>
  );
}
