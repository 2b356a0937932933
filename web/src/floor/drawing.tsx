// The floor itself, drawn to scale: tape, ways, points, stations, chargers, sidings, scale bar.
// It changes only with the floor or the window; the carts are in carts_layer.ts.
import type { Position } from '../api/types.ts';
import { lengthOf, lineOf, placeAt, type FloorPlan } from './geometry.ts';
import type { Layout } from './layout.ts';

export const pathText = (points: Position[]) =>
  points.map(([x, y], i) => `${i ? 'L' : 'M'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');

export function Tape({ plan, layout }: { plan: FloorPlan; layout: Layout }) {
  return (
    <g class="tape">
      {plan.floor.segments.map((s) => (
        <path
          key={s.id}
          data-testid={`segment-${s.id}`}
          class={s.spur ? 'tape-line tape-spur' : 'tape-line'}
          d={pathText(s.line.map(layout.px))}
        />
      ))}
      {plan.floor.segments.map((s) => {
        const line = lineOf(s.line.map(layout.px));
        const length = lengthOf(line);
        if (length < 22) return null;
        const both = s.two_way || s.spur;
        return (
          <g key={s.id}>
            <Chevron line={line} at={length / 2 + (both ? 5 : 2)} />
            {both && <Chevron line={line} at={length / 2 - 5} backward />}
          </g>
        );
      })}
    </g>
  );
}

function Chevron(props: { line: ReturnType<typeof lineOf>; at: number; backward?: boolean }) {
  const [x, y] = placeAt(props.line, props.at);
  const [ax, ay] = placeAt(props.line, props.at - 2);
  const [bx, by] = placeAt(props.line, props.at + 2);
  const angle = (Math.atan2(by - ay, bx - ax) * 180) / Math.PI + (props.backward ? 180 : 0);
  return (
    <path
      class="chevron"
      d="M-3.5 -4 L1.5 0 L-3.5 4"
      transform={`translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${angle.toFixed(1)})`}
    />
  );
}

/** Wide unseen lines over the tape, so that a segment can be pointed at. */
export function SegmentHits(props: { plan: FloorPlan; layout: Layout; onSegment(id: string): void }) {
  const { plan, layout, onSegment } = props;
  return (
    <g class="segment-hits">
      {plan.floor.segments.map((s) => (
        <path
          key={s.id}
          data-testid={`hit-${s.id}`}
          d={pathText(s.line.map(layout.px))}
          onClick={() => onSegment(s.id)}
        >
          <title>{`${s.id}: press to take it out of service`}</title>
        </path>
      ))}
    </g>
  );
}

export function Places({ plan, layout }: { plan: FloorPlan; layout: Layout }) {
  const chargers = new Set(plan.floor.chargers.map((c) => c.point));
  return (
    <g class="places">
      {plan.floor.points.map((p) => {
        const [x, y] = layout.px([p.x, p.y]);
        const station = plan.stationAt.has(p.id);
        return (
          <g
            key={p.id}
            data-testid={`point-${p.id}`}
            transform={`translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${layout.signs})`}
          >
            <title>{pointTitle(plan, p.id)}</title>
            {p.siding && <rect class="siding" x="-8" y="-8" width="16" height="16" rx="8" />}
            {p.turn_round && <circle class="turn-round" r="7" />}
            {station ? (
              <rect class="station" x="-6.5" y="-6.5" width="13" height="13" />
            ) : chargers.has(p.id) ? (
              <path class="charger" d={bolt} />
            ) : (
              <circle class="point" r={2.6} />
            )}
            {station && chargers.has(p.id) && <path class="charger" d={bolt} />}
          </g>
        );
      })}
    </g>
  );
}

const bolt = 'M1.6 -6.5 L-4 0.9 H-0.4 L-1.6 6.5 L4 -0.9 H0.4 Z';

export function Names({ layout }: { layout: Layout }) {
  return (
    <g class="names" aria-hidden="true">
      {layout.labels.map((l) => (
        <text key={l.kind + l.point} class={`name-${l.kind}`} x={l.x.toFixed(1)} y={l.y.toFixed(1)}>
          {l.text}
        </text>
      ))}
    </g>
  );
}

export function ScaleBar({ layout }: { layout: Layout }) {
  const { px, mm } = layout.bar;
  const y = layout.height - 12;
  const x = 12;
  const text = mm >= 1_000 ? `${mm / 1_000} m` : `${mm / 10} cm`;
  return (
    <g class="scale-bar" data-testid="scale-bar">
      <path d={`M${x} ${y - 5}V${y}H${(x + px).toFixed(1)}V${y - 5}`} />
      <text x={(x + px + 8).toFixed(1)} y={y}>
        {text}
      </text>
    </g>
  );
}

export function pointTitle(plan: FloorPlan, id: string): string {
  const point = plan.floor.points.find((p) => p.id === id);
  const words = [id];
  const station = plan.stationAt.get(id);
  if (station) words.push(`station ${station}`);
  if (plan.floor.chargers.some((c) => c.point === id)) words.push('charger');
  if (point?.siding) words.push('siding');
  if (point?.turn_round) words.push('carts may turn here');
  if (point && !point.tagged) words.push('no tag');
  return words.join(', ');
}
