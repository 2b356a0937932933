// The chosen thing with all that the floor file says of it, and what can be done with it.
import type { Desk } from './desk.ts';
import { ChoiceField, CheckField, NumberField, TextField } from './fields.tsx';
import { find, lineOf, things, type FloorFile, type Kind, type ThingOf } from './file.ts';
import { lengthOf, lineOf as measured } from '../floor/geometry.ts';

export const kindWords: Record<Kind, string> = { point: 'Point', segment: 'Segment', station: 'Station', charger: 'Charger', zone: 'Zone' };

export function ThingFields({ desk }: { desk: Desk }) {
  const { file, chosen } = desk;
  if (!file || !chosen) return <p class="none">Nothing is chosen. Press something on the drawing, or in the list.</p>;
  const { kind, id } = chosen;
  const taken = (to: string) =>
    !/^[A-Za-z0-9_-]{1,32}$/.test(to) ? 'An id has 1 to 32 of A-Z, a-z, 0-9, - and _.' : to !== id && find(file, kind, to) ? `There is a ${kind} ${to} already.` : '';
  return (
    <div class="draw-fields" data-testid="chosen" key={`${kind} ${id}`}>
      <h3>{kindWords[kind]} {id}</h3>
      <TextField label="Id" value={id} testId="field-id" set={(to) => desk.rename(kind, id, to)} wrong={taken} />
      {kind === 'point' && <PointFields desk={desk} file={file} thing={find(file, kind, id)!} />}
      {kind === 'segment' && <SegmentFields desk={desk} file={file} thing={find(file, kind, id)!} />}
      {kind === 'station' && <StationFields desk={desk} file={file} thing={find(file, kind, id)!} />}
      {kind === 'charger' && <PointChoice desk={desk} file={file} kind="charger" thing={find(file, kind, id)!} />}
      {kind === 'zone' && <ZoneFields desk={desk} thing={find(file, kind, id)!} />}
      <button onClick={() => desk.removeChosen()} data-testid="remove-chosen">
        {chosen.via === undefined ? `Remove ${kind} ${id}` : 'Remove this corner'}
      </button>
    </div>
  );
}

interface Props<K extends Kind> {
  desk: Desk;
  file: FloorFile;
  thing: ThingOf[K];
}

function PointFields({ desk, file, thing }: Props<'point'>) {
  const { id } = thing;
  const hex = (tags: string) => (/^([0-9A-Fa-f]+([ ,]+|$))*$/.test(tags) ? '' : 'Tags are hex numbers, with a blank between two.');
  return (
    <>
      <div class="draw-pair">
        <NumberField label="x, mm" value={thing.x} testId="field-x" set={(x) => desk.moveTo([x!, thing.y], `x of ${id}`)} />
        <NumberField label="y, mm" value={thing.y} testId="field-y" set={(y) => desk.moveTo([thing.x, y!], `y of ${id}`)} />
      </div>
      <TextField
        label="Tags"
        value={(thing.tags ?? []).join(' ')}
        testId="field-tags"
        wrong={hex}
        set={(tags) => desk.set('point', id, 'tags', tags.toUpperCase().split(/[ ,]+/).filter(Boolean))}
      />
      <CheckField label="Siding: a cart may rest here" value={thing.siding ?? false} testId="field-siding" set={(on) => desk.set('point', id, 'siding', on || undefined)} />
      <CheckField label="A cart may turn on the spot here" value={thing.turn_round ?? false} testId="field-turn" set={(on) => desk.set('point', id, 'turn_round', on || undefined)} />
      <div class="draw-actions">
        {!file.stations.some((s) => s.point === id) && <button onClick={() => desk.addAt('station', id)} data-testid="add-station">Station here</button>}
        {!file.chargers?.some((c) => c.point === id) && <button onClick={() => desk.addAt('charger', id)} data-testid="add-charger">Charger here</button>}
        {desk.laying && desk.laying !== id ? (
          <button onClick={() => desk.layTo(id)} data-testid="lay-to">Tape from {desk.laying} to here</button>
        ) : (
          <button onClick={() => desk.layTo(id)} data-testid="lay-from">Tape from here</button>
        )}
      </div>
    </>
  );
}

function SegmentFields({ desk, file, thing }: Props<'segment'>) {
  const { id } = thing;
  const line = lineOf(file, thing);
  const drawn = line ? Math.round(lengthOf(measured(line))) : 0;
  const corners = thing.via?.length ?? 0;
  return (
    <>
      <div class="draw-pair">
        {(['from', 'to'] as const).map((end) => (
          <ChoiceField key={end} label={end === 'from' ? 'From' : 'To'} value={thing[end]} testId={`field-${end}`} set={(to) => desk.set('segment', id, end, to)}>
            {file.points.map((p) => <option key={p.id}>{p.id}</option>)}
          </ChoiceField>
        ))}
      </div>
      <div class="draw-pair">
        <NumberField label="Length, mm" value={thing.length} standard={`${drawn} as drawn`} least={1} testId="field-length" set={(mm) => desk.set('segment', id, 'length', mm)} />
        <NumberField label="Speed, mm/s" value={thing.speed} standard="the cart’s" least={10} testId="field-speed" set={(v) => desk.set('segment', id, 'speed', v)} />
      </div>
      <CheckField label="Driven both ways" value={thing.two_way ?? false} testId="field-two-way" set={(on) => desk.set('segment', id, 'two_way', on || undefined)} />
      <CheckField label="Dead end: in nose first, out backwards" value={thing.spur ?? false} testId="field-spur" set={(on) => desk.set('segment', id, 'spur', on || undefined)} />
      <p class="none">{corners === 0 ? 'Straight' : corners === 1 ? 'One corner' : `${corners} corners`}, {(drawn / 1_000).toFixed(2)} m as drawn</p>
      <div class="draw-actions">
        {line && <button onClick={() => desk.bend(id, [Math.round((line[0]![0] + line[1]![0]) / 2), Math.round((line[0]![1] + line[1]![1]) / 2)])} data-testid="add-corner">Add a corner</button>}
        {corners === 1 && <button onClick={() => desk.round(id)} data-testid="round">Round the corner</button>}
        {corners > 0 && desk.chosen?.via === undefined && <button onClick={() => desk.choose({ kind: 'segment', id, via: 0 })} data-testid="choose-corner">Choose a corner</button>}
        {desk.chosen?.via !== undefined && corners > 1 && (
          <button onClick={() => desk.choose({ kind: 'segment', id, via: (desk.chosen!.via! + 1) % corners })}>Next corner</button>
        )}
      </div>
    </>
  );
}

function PointChoice({ desk, file, kind, thing }: { desk: Desk; file: FloorFile; kind: 'station' | 'charger'; thing: { id: string; point: string } }) {
  return (
    <ChoiceField label="At point" value={thing.point} testId="field-point" set={(to) => desk.set(kind, thing.id, 'point', to)}>
      {file.points.map((p) => <option key={p.id}>{p.id}</option>)}
    </ChoiceField>
  );
}

function StationFields({ desk, file, thing }: Props<'station'>) {
  const { id } = thing;
  return (
    <>
      <TextField label="Name" value={thing.name} testId="field-name" set={(name) => desk.set('station', id, 'name', name)} wrong={(name) => (name ? '' : 'Give it a name.')} />
      <PointChoice desk={desk} file={file} kind="station" thing={thing} />
      <div class="draw-pair">
        <NumberField label="Loading, s" value={thing.load_s} standard="15" least={0} testId="field-load" set={(s) => desk.set('station', id, 'load_s', s)} />
        <NumberField label="Unloading, s" value={thing.unload_s} standard="15" least={0} testId="field-unload" set={(s) => desk.set('station', id, 'unload_s', s)} />
      </div>
      <NumberField label="Loads that may stand there" value={thing.capacity} standard="no limit" least={1} testId="field-capacity" set={(n) => desk.set('station', id, 'capacity', n)} />
    </>
  );
}

function ZoneFields({ desk, thing }: { desk: Desk; thing: ThingOf['zone'] }) {
  return (
    <>
      <TextField label="Name" value={thing.name} testId="field-name" set={(name) => desk.set('zone', thing.id, 'name', name)} />
      <TextField label="Segments" value={thing.segments.join(' ')} testId="field-segments" set={(ids) => desk.set('zone', thing.id, 'segments', ids.split(/[ ,]+/).filter(Boolean))} />
    </>
  );
}

/** Everything of the floor, to be chosen without the drawing. */
export function ThingList({ desk }: { desk: Desk }) {
  const file = desk.file!;
  const about = (kind: Kind, thing: ThingOf[Kind]) =>
    kind === 'segment' ? `${(thing as ThingOf['segment']).from} to ${(thing as ThingOf['segment']).to}` : 'name' in thing ? thing.name : 'point' in thing ? `at ${thing.point}` : (thing as ThingOf['point']).tags?.length ? '' : 'no tag';
  return (
    <div class="draw-list" data-testid="things">
      {(Object.keys(kindWords) as Kind[]).map((kind) => (
        <details key={kind}>
          <summary data-testid={`list-${kind}`}>{kindWords[kind]}s ({things(file, kind).length})</summary>
          <ul>
            {things(file, kind).map((thing) => (
              <li key={thing.id}>
                <button
                  class="quiet"
                  aria-pressed={desk.chosen?.kind === kind && desk.chosen.id === thing.id}
                  data-testid={`choose-${kind}-${thing.id}`}
                  onClick={() => {
                    desk.choose({ kind, id: thing.id });
                    if (desk.chosenPlace) desk.look(desk.chosenPlace);
                  }}
                >
                  {thing.id}
                </button>{' '}
                <span class="none">{about(kind, thing)}</span>
              </li>
            ))}
          </ul>
        </details>
      ))}
    </div>
  );
}
