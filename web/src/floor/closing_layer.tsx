// On the floor: zones as wide bands under the tape, and what is out of service crossed out. Signs
// and shapes say it; colour only helps.
import type { Downtime, Zone } from '../api/types.ts';
import { pathText } from './drawing.tsx';
import { directionAt, lengthOf, lineOf, placeAt, type FloorPlan } from './geometry.ts';
import type { Layout } from './layout.ts';

/** Between two crosses along a closed segment, px. */
const crossEvery = 26;

interface ZonesProps {
  plan: FloorPlan;
  layout: Layout;
  zones: readonly Zone[];
}

export function ZoneBands({ plan, layout, zones }: ZonesProps) {
  return (
    <g class="zone-bands">
      {zones.map((zone) => {
        const lines = zone.segments.flatMap((id) => {
          const segment = plan.segments.get(id);
          return segment ? [segment.line.map(layout.px)] : [];
        });
        return (
          <g key={zone.id} class={zone.stopped ? 'zone stopped' : 'zone'} data-testid={`band-${zone.id}`}>
            <title>{zone.stopped ? `${zone.name}, stopped` : zone.name}</title>
            {lines.map((line, i) => (
              <path key={i} class="zone-edge" d={pathText(line)} />
            ))}
            {lines.map((line, i) => (
              <path key={i} class="zone-band" d={pathText(line)} />
            ))}
          </g>
        );
      })}
    </g>
  );
}

interface ClosedProps {
  plan: FloorPlan;
  layout: Layout;
  downtimes: readonly Downtime[];
}

export function ClosedMarks({ plan, layout, downtimes }: ClosedProps) {
  return (
    <g class="closed-marks">
      {downtimes.map((down) => {
        const look = down.begun ? 'closed' : 'closed planned';
        if (down.segment !== undefined) {
          const segment = plan.segments.get(down.segment);
          if (!segment) return null;
          const line = lineOf(segment.line.map(layout.px));
          const length = lengthOf(line);
          const count = Math.max(1, Math.floor(length / crossEvery));
          return (
            <g key={`segment-${segment.id}`} class={look} data-testid={`closed-${segment.id}`}>
              <title>{`${segment.id} is ${down.begun ? '' : 'to go '}out of service`}</title>
              <path class="closed-line" d={pathText(line.points)} />
              {Array.from({ length: count }, (_, i) => {
                const at = ((i + 0.5) * length) / count;
                const angle = (directionAt(line, at, 4) * 180) / Math.PI;
                return <Cross key={i} at={placeAt(line, at)} angle={angle} size={5 * layout.signs} />;
              })}
            </g>
          );
        }
        if (down.station !== undefined) {
          const station = plan.floor.stations.find((s) => s.id === down.station);
          const point = station && plan.points.get(station.point);
          if (!station || !point) return null;
          return (
            <g key={`station-${station.id}`} class={look} data-testid={`closed-${station.id}`}>
              <title>{`${station.name} is ${down.begun ? '' : 'to go '}out of service`}</title>
              <Cross at={layout.px([point.x, point.y])} angle={0} size={9 * layout.signs} />
            </g>
          );
        }
        return null; // a cart carries its own sign
      })}
    </g>
  );
}

function Cross({ at: [x, y], angle, size }: { at: [number, number]; angle: number; size: number }) {
  return (
    <path
      class="cross"
      d={`M${-size} ${-size}L${size} ${size}M${-size} ${size}L${size} ${-size}`}
      transform={`translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${angle.toFixed(1)})`}
    />
  );
}
