// The operator's page: where I am, send or fetch a load in two taps, and what becomes of it. Made
// for a phone in one hand: what is pressed most is at the bottom, under the thumb.
import { useEffect, useState } from 'preact/hooks';
import type { Job, Station } from '../api/types.ts';
import { isOpen, sortedJobs } from '../live/state.ts';
import { AccountBar } from '../door/account_bar.tsx';
import { NoticeBar } from '../page/notice.tsx';
import { StopAll } from '../page/stop_all.tsx';
import { useSeconds, useStore, type Store } from '../page/store.ts';
import { clockWords } from '../words/words.ts';
import { Desk } from './desk.ts';
import { JobCard, UnsentCard } from './job_card.tsx';
import { moveTo, placeAtStart } from './place.ts';
import { Spoken } from './spoken.tsx';
import { StationChoice, type Direction } from './station_choice.tsx';

/** Ended jobs shown. */
const endedShown = 6;

export function HerePage({ store }: { store: Store }) {
  useStore(store);
  useSeconds();
  const [desk] = useState(() => new Desk(store));
  const [here, setHere] = useState(placeAtStart);
  const [asking, setAsking] = useState<Direction | null>(null);
  const stations = store.plan?.floor.stations;
  const station = stations?.find((s) => s.id === here);

  useEffect(() => desk.start(), [desk]);
  useEffect(() => {
    if (station) moveTo(station.id);
    document.title = station ? `${station.name}, Tagline` : 'Tagline, my station';
  }, [station]);

  return (
    <>
      <header class="here-top">
        <h1>Tagline</h1>
        <LinkWords store={store} />
        <StopAll store={store} />
      </header>
      <main class="here">
        <Offline store={store} />
        <NoticeBar store={store} />
        <Where stations={stations} error={store.floorError} here={here} found={!!station} choose={setHere} />
        {station && (
          <>
            <Troubles store={store} station={station} />
            {store.may('operator') ? (
              <div class="here-actions">
                <button class="main" onClick={() => setAsking('send')} data-testid="send">
                  Send a load
                </button>
                <button class="main" onClick={() => setAsking('fetch')} data-testid="fetch">
                  Fetch a load
                </button>
              </div>
            ) : (
              <p class="none" data-testid="looks-only">
                Your account may look only. A builder can make you an operator.
              </p>
            )}
            <Jobs store={store} desk={desk} station={station} />
          </>
        )}
        <AccountBar store={store} />
      </main>
      {station && asking && (
        <StationChoice
          store={store}
          here={station}
          direction={asking}
          onChoose={(other) => {
            const wish =
              asking === 'send'
                ? { from: station.id, to: other }
                : { from: other, to: station.id };
            void desk.outbox.press(wish);
          }}
          onClose={() => setAsking(null)}
        />
      )}
    </>
  );
}

function LinkWords({ store }: { store: Store }) {
  const { kind } = store.link;
  const words = { live: 'Live', connecting: 'Connecting', lost: 'Offline' }[kind];
  return (
    <p class={`link ${kind}`} data-testid="link" data-link={kind}>
      <span class="link-sign" aria-hidden="true" />
      {words}
    </p>
  );
}

/** In plain words, spoken too; nothing while the link is live. */
function Offline({ store }: { store: Store }) {
  const { link } = store;
  return (
    <div class="stale-place" role="status">
      {link.kind === 'lost' && (
        <p class="stale-banner" data-testid="offline">
          Offline since {clockWords(link.since)}. What you see is old. What you press is kept on this
          device and sent when the link is back.
        </p>
      )}
    </div>
  );
}

interface WhereProps {
  stations: readonly Station[] | undefined;
  error: string;
  here: string | null;
  found: boolean;
  choose(station: string): void;
}

function Where({ stations, error, here, found, choose }: WhereProps) {
  if (!stations) return <p class="none">{error || 'The stations are being fetched.'}</p>;
  return (
    <div class="where">
      <label class="field">
        <span>I am at</span>
        <select
          value={found ? here! : ''}
          data-testid="where"
          onChange={(event) => choose(event.currentTarget.value)}
        >
          {!found && <option value="">Choose your station</option>}
          {stations.map((s) => (
            <option key={s.id} value={s.id}>
              {s.name}
            </option>
          ))}
        </select>
      </label>
      {here && !found && (
        <p class="outcome bad" role="alert" data-testid="no-such-station">
          This floor has no station “{here}”. Choose yours above, and ask for a new code if you
          scanned one.
        </p>
      )}
    </div>
  );
}

/** What keeps loads from coming and going, before they are asked for. */
function Troubles({ store, station }: { store: Store; station: Station }) {
  const { allStopped, stations, downtimes } = store.board;
  const down = downtimes.find((d) => d.station === station.id && d.begun);
  const counted = stations.get(station.id);
  const full = counted && counted.capacity !== null && (counted.loads ?? 0) >= counted.capacity;
  return (
    <>
      {allStopped && (
        <p class="outcome bad" role="status" data-testid="here-stopped">
          All carts are stopped. Nothing moves until a person releases them.
        </p>
      )}
      {down && (
        <p class="outcome wait" role="status" data-testid="here-down">
          {station.name} is out of service: jobs for it wait until it is back.
          {down.reason && ` ${down.reason}.`}
        </p>
      )}
      {full && (
        <p class="outcome wait" role="status" data-testid="here-full">
          {station.name} is full: loads for it wait until one is taken away.
        </p>
      )}
    </>
  );
}

function Jobs({ store, desk, station }: { store: Store; desk: Desk; station: Station }) {
  const mine = desk.mine();
  const isMine = (job: Job) => mine.some((m) => m.id === job.id && m.created === job.created);
  const { open } = sortedJobs(store.board);
  const others = open.filter((job) => touches(job, station.id) && !isMine(job));
  const myOpen = mine.filter(isOpen);
  const myEnded = mine.filter((job) => !isOpen(job)).slice(0, endedShown);
  const unsent = desk.outbox.all();
  return (
    <>
      <section aria-labelledby="mine-title" data-testid="mine">
        <h2 id="mine-title">My jobs</h2>
        <Spoken mine={mine} store={store} />
        <ul class="cards">
          {unsent.map((one) => (
            <UnsentCard key={one.key} one={one} desk={desk} store={store} />
          ))}
          {myOpen.map((job) => (
            <JobCard key={job.id} job={job} here={station.id} store={store} />
          ))}
        </ul>
        {unsent.length + myOpen.length === 0 && <p class="none">Nothing is on its way for you.</p>}
      </section>
      {others.length > 0 && (
        <section aria-labelledby="others-title" data-testid="others">
          <h2 id="others-title">Others’ jobs here</h2>
          <ul class="cards">
            {others.map((job) => (
              <JobCard key={job.id} job={job} here={station.id} store={store} />
            ))}
          </ul>
        </section>
      )}
      {myEnded.length > 0 && (
        <section aria-labelledby="ended-title" data-testid="ended">
          <h2 id="ended-title">My last jobs</h2>
          <ul class="cards ended">
            {myEnded.map((job) => (
              <JobCard key={job.id} job={job} here={station.id} store={store} />
            ))}
          </ul>
        </section>
      )}
    </>
  );
}

const touches = (job: Job, station: string) =>
  job.from === station || job.to === station || job.via.some((stop) => stop.station === station);
