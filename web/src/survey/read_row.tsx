// One place that the surveying cart passed: which point it is or becomes, how far it is from the one
// before, and what a person can say of it.
import type { Desk } from '../draw/desk.ts';
import { find } from '../draw/file.ts';
import type { Distance } from './distances.ts';
import type { Turn } from './lay_out.ts';
import type { SurveyDesk } from './survey_desk.ts';
import type { Visit } from './walk.ts';

interface Props {
  survey: SurveyDesk;
  desk: Desk;
  visit: Visit;
  /** What it is, or becomes. */
  point: string;
  /** The one before; none at the first. */
  from: string | undefined;
  distance: Distance | undefined;
  words(mm: number): string;
}

const doubts: Record<Distance['doubt'], string> = {
  '': '',
  late: 'the link was away, so nobody knows when it was read',
  stood: 'it stood in between',
  quick: 'the link held the reads up',
  long: 'far longer than the others: it seems to have stood, so this is a middling distance',
};
const step = 100;
const bends: readonly [Turn, string][] = [['straight', 'Straight'], ['left', 'Bends left'], ['right', 'Bends right']];

export function ReadRow({ survey, desk, visit, point, from, distance, words }: Props) {
  const { number } = visit;
  const there = find(desk.file!, 'point', point);
  return (
    <li data-testid={`read-${number}`}>
      <p>
        <strong>{there ? point : `New: ${point}`}</strong> <span class="none">tag {visit.tags.join(', ')}</span>
      </p>
      {distance && from && (
        <p data-testid={`distance-${number}`}>
          {words(distance.mm)} {distance.error > 0 && `± ${words(distance.error)} `}from {from}
          {distance.how === 'guess' && <> <span class="tag wait">a guess</span> {doubts[distance.doubt]}</>}
          {distance.how === 'drawn' && ', as drawn'}
          {distance.how === 'set' && ', as you set it'}
        </p>
      )}
      {there && <Roles survey={survey} desk={desk} point={point} />}
      <details>
        <summary data-testid={`change-${number}`}>Change</summary>
        {distance && from && distance.how !== 'drawn' && <Distances survey={survey} number={number} from={from} point={point} distance={distance} words={words} />}
        {from && (
          <label class="field">
            <span>Tape from {from} to {point}</span>
            <select
              value={survey.turns.get(number) ?? ''}
              data-testid={`turn-${number}`}
              onChange={(event) => survey.sayTurn(number, (event.currentTarget.value || undefined) as Turn | undefined)}
            >
              <option value="">Not told</option>
              {bends.map(([turn, label]) => <option key={turn} value={turn}>{label}</option>)}
            </select>
          </label>
        )}
        <div class="draw-actions">
          {from && visit.tags.length === 1 && <button onClick={() => survey.saySame(number)} data-testid={`same-${number}`}>A second tag of {from}</button>}
          {visit.tags.length > 1 && [...survey.same].filter((said) => visit.tags.includes(survey.reads[said - 1]?.tag ?? '')).map((said) => (
            <button key={said} onClick={() => survey.sayApart(said)} data-testid={`apart-${said}`}>{survey.reads[said - 1]!.tag} is a point of its own</button>
          ))}
          <button onClick={() => survey.leaveOut(number)} data-testid={`leave-out-${number}`}>Leave this tag out</button>
        </div>
      </details>
    </li>
  );
}

function Distances({ survey, number, from, point, distance, words }: Pick<Props, 'survey' | 'point' | 'words'> & { number: number; from: string; distance: Distance }) {
  const say = (mm: number | undefined) => survey.sayDistance(number, mm);
  return (
    <>
      <label class="field">
        <span>Distance from {from} to {point}</span>
        <input
          type="range"
          min={100}
          max={Math.max(5_000, Math.ceil(distance.mm / 5_000) * 5_000 + 5_000)}
          step={10}
          value={distance.mm}
          aria-valuetext={words(distance.mm)}
          data-testid={`slide-${number}`}
          onInput={(event) => say(Number(event.currentTarget.value))}
        />
      </label>
      <div class="draw-actions">
        <button onClick={() => say(distance.mm - step)} aria-label={`10 cm shorter from ${from} to ${point}`} data-testid={`less-${number}`}>− 10 cm</button>
        <button onClick={() => say(distance.mm + step)} aria-label={`10 cm longer from ${from} to ${point}`} data-testid={`more-${number}`}>+ 10 cm</button>
        {distance.how === 'set'
          ? <button onClick={() => say(undefined)} data-testid={`estimate-${number}`}>By the times again</button>
          : <button onClick={() => say(distance.mm)} data-testid={`measured-${number}`}>Measured: it is {words(distance.mm)}</button>}
      </div>
    </>
  );
}

function Roles({ survey, desk, point }: Pick<Props, 'survey' | 'desk' | 'point'>) {
  const file = desk.file!;
  const station = file.stations.find((s) => s.point === point);
  const charger = file.chargers?.find((c) => c.point === point);
  const siding = find(file, 'point', point)?.siding;
  const is = [station && `station ${station.name}`, charger && `charger ${charger.id}`, siding && 'a place of rest (siding)'].filter(Boolean);
  return (
    <div class="draw-actions">
      {is.length > 0 && <span>{is.join(', ')}</span>}
      {!station && <button onClick={() => survey.becomes(point, 'station')} aria-label={`A station at ${point}`} data-testid={`station-${point}`}>Station</button>}
      {!charger && <button onClick={() => survey.becomes(point, 'charger')} aria-label={`A charger at ${point}`} data-testid={`charger-${point}`}>Charger</button>}
      {!siding && <button onClick={() => survey.becomes(point, 'siding')} aria-label={`A place of rest at ${point}`} data-testid={`siding-${point}`}>Place of rest</button>}
    </div>
  );
}
