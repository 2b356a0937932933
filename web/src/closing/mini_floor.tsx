// A small picture of the floor with some of its segments and points marked: which track is meant.
import { pathText } from '../floor/drawing.tsx';
import type { FloorPlan } from '../floor/geometry.ts';
import { layoutOf } from '../floor/layout.ts';

const width = 300;
const height = 190;

interface Props {
  plan: FloorPlan;
  segments?: readonly string[];
  point?: string | undefined;
}

export function MiniFloor({ plan, segments = [], point }: Props) {
  const layout = layoutOf({ ...plan.floor, stations: [] }, width, height);
  const marked = plan.points.get(point ?? '');
  const [x, y] = marked ? layout.px([marked.x, marked.y]) : [0, 0];
  return (
    <svg
      class="mini-floor"
      width={layout.width}
      height={layout.height}
      viewBox={`0 0 ${layout.width} ${layout.height}`}
      aria-hidden="true"
    >
      {plan.floor.segments.map((s) => (
        <path key={s.id} class="tape-line" d={pathText(s.line.map(layout.px))} />
      ))}
      {segments.map((id) => {
        const segment = plan.segments.get(id);
        return segment && <path key={id} class="marked-line" d={pathText(segment.line.map(layout.px))} />;
      })}
      {marked && <circle class="marked-point" cx={x} cy={y} r="8" />}
    </svg>
  );
}
