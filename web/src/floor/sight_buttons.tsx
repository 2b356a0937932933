// Nearer, farther, the whole floor: for whoever has no wheel and no two fingers free.
import type { SightControl } from './use_sight.ts';

export function SightButtons({ sight }: { sight: SightControl }) {
  return (
    <div class="sight-buttons" role="group" aria-label="Part of the floor in sight">
      <button onClick={sight.zoomIn} disabled={sight.atMost} aria-label="Nearer" title="Nearer (+)" data-testid="zoom-in">
        +
      </button>
      <button onClick={sight.zoomOut} disabled={!sight.isIn} aria-label="Farther" title="Farther (−)" data-testid="zoom-out">
        −
      </button>
      <button onClick={sight.whole} disabled={!sight.isIn} title="The whole floor (0)" data-testid="zoom-whole">
        Whole floor
      </button>
    </div>
  );
}
