// Where a place goes that was pointed at: in line with a point nearby, else on the grid. mm.
import type { FloorFile, Place } from './file.ts';

/** Widths of the grid to choose from; 1 mm is none. */
export const grids = [1, 10, 50, 100, 250, 500];

export interface Snapped {
  at: Place;
  /** Ids of the points that it is in line with, one for each axis. */
  alignedX?: string;
  alignedY?: string;
}

const onGrid = (value: number, grid: number) => Math.round(value / grid) * grid;

/** `reach`: how far away a point's line still draws, mm. `without`: a point that is itself moved. */
export function snap(file: FloorFile, [x, y]: Place, grid: number, reach: number, without?: string): Snapped {
  let [bestX, bestY] = [reach, reach];
  const snapped: Snapped = { at: [onGrid(x, grid), onGrid(y, grid)] };
  for (const point of file.points) {
    if (point.id === without) continue;
    if (Math.abs(point.x - x) < bestX) {
      bestX = Math.abs(point.x - x);
      snapped.at[0] = point.x;
      snapped.alignedX = point.id;
    }
    if (Math.abs(point.y - y) < bestY) {
      bestY = Math.abs(point.y - y);
      snapped.at[1] = point.y;
      snapped.alignedY = point.id;
    }
  }
  return snapped;
}
