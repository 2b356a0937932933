// Which part of the floor is in sight: pure arithmetic of zooming and moving the drawing in its
// frame. A place is drawn at `place * zoom + (x, y)`, where place and frame are in px of the whole
// floor's drawing.

export interface Sight {
  /** 1: the whole floor. */
  zoom: number;
  /** Where the drawing's left upper corner is, px; 0 or negative. */
  x: number;
  y: number;
}

export interface Frame {
  width: number;
  height: number;
}

export const wholeFloor: Sight = { zoom: 1, x: 0, y: 0 };

/** A press on + or -. */
export const zoomStep = 1.5;
/** One arrow key, as a share of the frame. */
export const arrowShare = 0.15;
/** At the largest zoom a metre is so many px, if the floor is not larger than that anyway. */
const mostPxPerMm = 0.3;
const leastMost = 4;

/** How far in one may go; `scale`: px per mm of the whole floor's drawing. */
export const mostZoom = (scale: number) => Math.max(leastMost, mostPxPerMm / scale);

/** The drawing always fills its frame. */
function kept({ zoom, x, y }: Sight, { width, height }: Frame): Sight {
  const within = (at: number, size: number) => Math.min(0, Math.max(size * (1 - zoom), at)) + 0;
  return { zoom, x: within(x, width), y: within(y, height) };
}

/** Zoomed by `factor` so that what is at (`atX`, `atY`) of the frame stays there. */
export function zoomed(sight: Sight, factor: number, atX: number, atY: number, frame: Frame, most: number): Sight {
  const wanted = Math.min(most, Math.max(1, sight.zoom * factor));
  // So close to the whole floor nobody sees the difference, but the page would not scroll.
  const zoom = wanted < 1.02 ? 1 : wanted;
  const by = zoom / sight.zoom;
  return kept({ zoom, x: atX - (atX - sight.x) * by, y: atY - (atY - sight.y) * by }, frame);
}

export const moved = (sight: Sight, dx: number, dy: number, frame: Frame): Sight =>
  kept({ zoom: sight.zoom, x: sight.x + dx, y: sight.y + dy }, frame);

/** The same part of the floor in a frame of another size. */
export const refitted = (sight: Sight, old: Frame, frame: Frame): Sight =>
  kept(
    {
      zoom: sight.zoom,
      x: (sight.x * frame.width) / Math.max(1, old.width),
      y: (sight.y * frame.height) / Math.max(1, old.height),
    },
    frame,
  );

/** How much a turn of the wheel zooms; lines and pages are put into px as browsers do. */
export function wheelFactor(deltaY: number, deltaMode: number): number {
  const px = deltaMode === 1 ? deltaY * 16 : deltaMode === 2 ? deltaY * 400 : deltaY;
  return Math.exp(-Math.max(-200, Math.min(200, px)) / 400);
}
