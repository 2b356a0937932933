// On the floor: how long carts have waited for each merge, as rings with the time beside. The larger
// the ring, the longer; the words say it exactly.
import type { FloorPlan } from './geometry.ts';
import type { Layout } from './layout.ts';

export interface MergeWaits {
  point: string;
  waits: number;
  waited_s: number;
}

interface Props {
  plan: Pick<FloorPlan, 'points'>;
  layout: Pick<Layout, 'px'>;
  merges: readonly MergeWaits[];
  words(seconds: number): string;
}

/** Radius of the longest, px. */
const largest = 26;
const smallest = 6;

export function WaitsLayer({ plan, layout, merges, words }: Props) {
  const longest = Math.max(...merges.map((m) => m.waited_s), 1);
  return (
    <g class="waits" data-testid="waits-layer">
      {merges.map((merge) => {
        const point = plan.points.get(merge.point);
        if (!point || merge.waited_s === 0) return null;
        const [x, y] = layout.px([point.x, point.y]);
        // The area grows with the time.
        const radius = Math.max(smallest, largest * Math.sqrt(merge.waited_s / longest));
        return (
          <g key={merge.point} data-testid={`waits-${merge.point}`}>
            <title>{`Merge at ${merge.point}: ${merge.waits} waits, ${words(merge.waited_s)} together`}</title>
            <circle class="waits-ring" cx={x} cy={y} r={radius} />
            <text class="waits-words" x={x} y={y - radius - 3} text-anchor="middle">
              {words(merge.waited_s)}
            </text>
          </g>
        );
      })}
    </g>
  );
}
