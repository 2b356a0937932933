// Commissioning: a person drives one cart along the tape by hand; the tags it reads arrive in order and
// become points and segments. All of it with buttons.
import { useEffect, useMemo } from 'preact/hooks';
import type { Desk } from '../draw/desk.ts';
import type { Store } from '../page/store.ts';
import { ReadRow } from './read_row.tsx';
import { SurveyDesk, type Seen } from './survey_desk.ts';
import { mayMiss } from './walk.ts';

export function SurveyPanel({ store, desk, redraw }: { store: Store; desk: Desk; redraw(): void }) {
  const survey = useMemo(() => new SurveyDesk(desk, redraw), [desk]);
  useEffect(() => {
    void survey.look();
    return () => survey.close();
  }, [survey]);
  const { seen } = survey;
  return (
    <section class="panel survey" aria-labelledby="survey-title" data-testid="survey">
      <h2 id="survey-title">Commission</h2>
      {survey.running ? <Running survey={survey} /> : <Beginning store={store} survey={survey} />}
      {survey.trouble && <p class="outcome bad" role="alert" data-testid="survey-trouble">{survey.trouble}</p>}
      {seen && <Reads survey={survey} seen={seen} desk={desk} />}
    </section>
  );
}

function Beginning({ store, survey }: { store: Store; survey: SurveyDesk }) {
  const carts = [...store.board.carts.values()].filter((cart) => cart.connected && cart.mode === 'off_floor');
  const ended = survey.survey?.ended;
  return (
    <>
      {ended && (
        <p class="outcome wait" role="status" data-testid="survey-ended">
          The survey has ended: {ended} Nothing is listened to any more. Keep that cart off tape where others may drive.
        </p>
      )}
      <p>
        Drive or push one cart along the tape yourself, with its own controls. The tags it reads arrive here in order and become points
        and segments. <strong>The service moves nothing and protects nobody meanwhile</strong>: the cart is off the floor, so no other cart
        makes room for it. It begins only while everything is stopped, or no other cart is on the floor, and ends with that.
      </p>
      {carts.length === 0 ? (
        <p class="none" data-testid="survey-nobody">No cart is connected and off the floor. Switch one on; one that is on the floor is taken off on the board.</p>
      ) : (
        <form
          class="draw-actions"
          onSubmit={(event) => {
            event.preventDefault();
            void survey.begin(new FormData(event.currentTarget).get('cart') as string);
          }}
        >
          <label class="field">
            <span>Cart that is driven by hand</span>
            <select name="cart" data-testid="survey-cart">
              {carts.map((cart) => <option key={cart.id} value={cart.id}>{cart.id}</option>)}
            </select>
          </label>
          <button class="main" data-testid="survey-begin">{survey.survey ? 'Begin a new survey' : 'Begin'}</button>
        </form>
      )}
    </>
  );
}

function Running({ survey }: { survey: SurveyDesk }) {
  const { cart, connected, full } = survey.survey!;
  const count = survey.reads.length;
  return (
    <>
      <p role="status" class={connected ? 'outcome' : 'outcome wait'} data-testid="survey-running">
        {connected ? `Listening to ${cart}: ${count === 0 ? 'no tag yet' : count === 1 ? '1 tag' : `${count} tags`}.` : `${cart} has no link; what it reads comes later, without its times.`}
        {full && ' No more tags are taken: accept these, and begin a new survey.'}
      </p>
      <p>You drive it. Nothing here moves or stops a cart.</p>
      <div class="draw-actions">
        <button onClick={() => void survey.end()} data-testid="survey-end">End the survey</button>
      </div>
    </>
  );
}

const metres = (mm: number) => `${(mm / 1_000).toFixed(2)} m`;

function Reads({ survey, seen, desk }: { survey: SurveyDesk; seen: Seen; desk: Desk }) {
  const { walk, distances, pace, accepted } = seen;
  const news = survey.news(seen);
  const bends = accepted.notes;
  return (
    <>
      <p data-testid="survey-pace">
        {pace.legs === 0
          ? `Distances are reckoned from the times, as if driven at ${Math.round(pace.speed)} mm/s, the floor file’s speed of a cart: right to about a quarter if you drive at that. Set one distance that you know, and the others follow.`
          : `Driven at ${Math.round(pace.speed)} mm/s, by ${pace.legs === 1 ? 'a distance' : `${pace.legs} distances`} that you set or that the drawing has: right to about ${Math.round(pace.share * 100)} %.`}{' '}
        That is enough to draw with, not to drive by: until you have measured a length, carts creep there.
      </p>
      {mayMiss(survey.reads) && <p class="outcome wait">The link was away for long, and a cart keeps only its last 12 tags: some in between may be missing.</p>}
      <ol class="survey-reads" data-testid="survey-reads">
        {walk.visits.map((visit, k) => (
          <ReadRow key={visit.number} survey={survey} desk={desk} visit={visit} point={accepted.points[k]!} from={accepted.points[k - 1]} distance={k > 0 ? distances[k - 1] : undefined} words={metres} />
        ))}
      </ol>
      {survey.leftOut.size > 0 && (
        <p class="draw-actions">
          {[...survey.leftOut].map((number) => (
            <button key={number} class="quiet" onClick={() => survey.takeBack(number)} data-testid={`take-back-${number}`}>
              Take {survey.reads[number - 1]?.tag} back in
            </button>
          ))}
        </p>
      )}
      <fieldset class="survey-side">
        <legend>A way that closes is drawn turning</legend>
        {(['left', 'right'] as const).map((side) => (
          <label key={side}>
            <input type="radio" name="side" checked={survey.side === side} onChange={() => survey.saySide(side)} data-testid={`side-${side}`} /> {side}
          </label>
        ))}
      </fieldset>
      {bends.length > 0 && <ul class="survey-notes" data-testid="survey-notes">{bends.map((note) => <li key={note}>{note}</li>)}</ul>}
      <div class="draw-actions">
        <button class="main" disabled={!news} onClick={() => survey.accept(seen)} data-testid="survey-accept">
          {news ? `Accept ${news}` : 'All of it is on the sheet'}
        </button>
      </div>
    </>
  );
}
