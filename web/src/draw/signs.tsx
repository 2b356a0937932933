// Points of the drawing with what is at them: stations, chargers, sidings, places to turn, tags; and
// their names where there is room.
import type { Chosen } from './desk.ts';
import { find, type FloorFile, type Place } from './file.ts';
import { placeNames } from './names.ts';
import { toPx, type Window } from './window.ts';

/** Below so many pixels a mm the names of plain points would lie on each other. */
const namesFrom = 0.04;

interface Props {
  file: FloorFile;
  window: Window;
  chosen: Chosen | null;
  laying: string | null;
}

export function Signs({ file, window, chosen, laying }: Props) {
  const stations = new Map(file.stations.map((s) => [s.point, s]));
  const chargers = new Set((file.chargers ?? []).map((c) => c.point));
  const thing = chosen && find(file, chosen.kind, chosen.id);
  const pickedPoint = chosen?.kind === 'point' ? chosen.id : thing && 'point' in thing ? thing.point : null;
  const points = file.points.map((p) => ({ p, at: toPx(window, [p.x, p.y]), station: stations.get(p.id) }));
  const plain = window.scale >= namesFrom ? points.filter(({ station }) => !station) : points.filter(({ p, station }) => !station && p.id === pickedPoint);
  const inSight = ({ at: [x, y] }: { at: Place }) => x > 0 && x < window.width && y > 0 && y < window.height;
  const wanted = [...points.filter(({ station }) => station), ...plain].filter(inSight).map(({ p, at, station }) => ({
    id: p.id, text: station?.name ?? p.id, at, size: station ? 15 : 12, always: p.id === pickedPoint,
  }));
  const names = new Map(placeNames(wanted, window.width).map((name) => [name.id, name]));
  return (
    <g class="draw-points">
      {points.map(({ p, at: [x, y], station }) => {
        const name = names.get(p.id);
        return (
          <g key={p.id} transform={`translate(${x.toFixed(1)} ${y.toFixed(1)})`}>
            {p.siding && <rect class="draw-siding" x="-10" y="-10" width="20" height="20" rx="10" />}
            {p.turn_round && <circle class="draw-turn" r="9" />}
            {(p.id === pickedPoint || p.id === laying) && <circle class={p.id === laying ? 'draw-ring draw-laying' : 'draw-ring'} r="13" />}
            {station ? <rect class="draw-station" x="-7" y="-7" width="14" height="14" /> : <circle class={p.tags?.length ? 'draw-point' : 'draw-point draw-untagged'} r="4.5" />}
            {chargers.has(p.id) && <path class="draw-charger" d="M1.6 -6.5 L-4 0.9 H-0.4 L-1.6 6.5 L4 -0.9 H0.4 Z" />}
            {name && <text class={station ? 'draw-name draw-name-station' : 'draw-name'} x={name.dx} y={name.dy} text-anchor={name.anchor}>{name.text}</text>}
            <circle class="draw-hit-point" r="13" data-kind="point" data-id={p.id} data-testid={`drawn-${p.id}`} />
          </g>
        );
      })}
    </g>
  );
}
