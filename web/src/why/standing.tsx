// The answer to "why does it stand?": the whole chain of reasons, root last and in bold, and under it
// what a person can do, each with what will come of it. Opened by one press on a standing cart, on the
// drawing or in the list, or on a job.
import { useEffect, useRef, useState } from 'preact/hooks';
import { api, type Result } from '../api/client.ts';
import type { Cart, Reason } from '../api/types.ts';
import { CartQuestion } from '../carts/cart_questions.tsx';
import { nameOf } from '../carts/identity.ts';
import { Confirm } from '../page/confirm.tsx';
import { StopButton } from '../page/stop_button.tsx';
import { useSeconds, type Store, type Subject } from '../page/store.ts';
import { Count } from '../stations/station_list.tsx';
import { helpFor, type Remedy } from './remedies.ts';
import { ReasonLine } from './why_chain.tsx';

/** Nothing while nobody asks, or when what was asked about is no longer known. */
export function Standing({ store }: { store: Store }) {
  const [chosen, setChosen] = useState<{ about: Subject; remedy: Remedy } | null>(null);
  if (chosen) {
    return <Act store={store} remedy={chosen.remedy} onClose={() => setChosen(null)} />;
  }
  if (!store.asked || !known(store, store.asked)) return null;
  const about = store.asked;
  return (
    <Answer
      key={`${about.kind} ${about.id}`}
      about={about}
      store={store}
      onChoose={(remedy) => {
        store.ask(null);
        setChosen({ about, remedy });
      }}
    />
  );
}

const known = (store: Store, about: Subject) =>
  about.kind === 'cart' ? store.board.carts.has(about.id) : store.board.jobs.has(about.id);

/** Of a job that a cart has: why that cart stands. */
function reasonsOf(store: Store, about: Subject): readonly Reason[] {
  if (about.kind === 'cart') return store.board.carts.get(about.id)?.why ?? [];
  const job = store.board.jobs.get(about.id);
  if (!job) return [];
  return job.why.length || job.cart === null || job.ended_at ? job.why : (store.board.carts.get(job.cart)?.why ?? []);
}

function titleOf(store: Store, about: Subject): string {
  if (about.kind === 'cart') return nameOf(about.id);
  const cart = store.board.jobs.get(about.id)?.cart;
  return cart ? `Job ${about.id}, with ${nameOf(cart)}` : `Job ${about.id}`;
}

interface AnswerProps {
  about: Subject;
  store: Store;
  onChoose(remedy: Remedy): void;
}

function Answer({ about, store, onChoose }: AnswerProps) {
  useSeconds();
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const element = dialog.current;
    if (element && !element.open) element.showModal();
    return () => element?.close();
  }, []);
  const why = reasonsOf(store, about);
  const ended = about.kind === 'job' ? store.board.jobs.get(about.id)?.reason : '';
  return (
    <dialog ref={dialog} class="standing" aria-labelledby="standing-title" onClose={() => store.ask(null)} data-testid="standing">
      <h2 id="standing-title">{titleOf(store, about)}</h2>
      {why.length > 0 ? (
        <>
          <h3>Why {store.past ? 'it stood' : 'it stands'}</h3>
          <ol class="chain" data-testid="standing-chain">
            {why.map((reason, i) => (
              <li key={i} class={i === why.length - 1 ? 'why-root' : ''} data-kind={reason.kind}>
                <ReasonLine reason={reason} now={store.now()} />
              </li>
            ))}
          </ol>
          {!store.past && <WhatToDo why={why} store={store} onChoose={onChoose} />}
        </>
      ) : (
        <p>{ended || 'Nothing keeps it.'}</p>
      )}
      <div class="buttons">
        <button type="button" class="quiet" onClick={() => store.ask(null)} data-testid="standing-close">
          Go back
        </button>
      </div>
      {/* An open dialog shuts off the rest of the page, and with it the other stop button. */}
      {store.may('operator') && (
        <div class="dialog-stop">
          <StopButton store={store} testId="stop-all-in-standing" />
        </div>
      )}
    </dialog>
  );
}

function WhatToDo({ why, store, onChoose }: { why: readonly Reason[]; store: Store; onChoose(remedy: Remedy): void }) {
  const { remedies, advice } = helpFor(why, store.board, store.plan);
  const mine = remedies.filter((remedy) => store.may(remedy.least));
  return (
    <>
      <h3>What can be done</h3>
      {remedies.length + advice.length === 0 && <p data-testid="no-remedy">Nothing needs to be done: it goes on by itself.</p>}
      {advice.map((text) => (
        <p key={text} data-testid="advice">{text}</p>
      ))}
      {mine.length < remedies.length && <p>A supervisor can do more about it.</p>}
      <ul class="remedies">
        {mine.map((remedy) => (
          <li key={remedy.id} data-testid={`remedy-${remedy.id}`}>
            <button type="button" onClick={() => onChoose(remedy)}>
              {remedy.title}
            </button>
            <p>{remedy.follows}</p>
          </li>
        ))}
      </ul>
    </>
  );
}

/** The question of the remedy that was chosen. */
function Act({ store, remedy, onClose }: { store: Store; remedy: Remedy; onClose(): void }) {
  const { act } = remedy;
  const say = async (what: string, asking: Promise<Result<unknown>>) => {
    const answer = await asking;
    store.say(answer.ok, answer.ok ? `${what}.` : answer.text);
  };
  if (act.kind === 'count_loads') {
    const station = store.board.stations.get(act.station);
    return station ? <Count station={station} store={store} onClose={onClose} /> : null;
  }
  if (act.kind === 'release' || act.kind === 'place' || act.kind === 'remove') {
    const cart: Cart | undefined = store.board.carts.get(act.cart);
    if (!cart) return null;
    return (
      <CartQuestion
        question={{ kind: act.kind, cart: act.cart }}
        cart={cart}
        name={nameOf(cart.id)}
        follows={remedy.follows}
        store={store}
        act={(name, what, asking) => say(`${name} ${what}`, asking)}
        onClose={onClose}
      />
    );
  }
  const doIt = () => {
    switch (act.kind) {
      case 'release_all':
        return say('Every cart is released', api.releaseAll());
      case 'release_zone':
        return say('The zone is released', api.releaseZone(act.zone));
      case 'say_handled':
        return say(`The cart is told that the load is ${act.what === 'load' ? 'on' : 'off'}`, api.sayHandled(act.job, act.what));
      case 'bring_up':
        return say('It is back in service', api.bringUp(act.thing.kind, act.thing.id));
    }
  };
  return (
    <Confirm store={store} title={`${remedy.title}?`} yes="I have looked: do it" onYes={() => void doIt()} onClose={onClose}>
      <p data-testid="follows">{remedy.follows}</p>
    </Confirm>
  );
}
