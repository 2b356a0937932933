// Which part of the floor the drawing shows: mm to pixels and back, pan and zoom. y is up on the
// floor and down on the screen.
import type { Place } from './file.ts';

export interface Window {
  /** The place in the middle, mm. */
  readonly middle: Place;
  /** Pixels a mm. */
  readonly scale: number;
  readonly width: number;
  readonly height: number;
}

const [smallest, largest] = [0.002, 2];
const margin = 60;

export function fit(low: Place, high: Place, width: number, height: number): Window {
  const across = (from: number, to: number, room: number) => Math.max(1, room - 2 * margin) / Math.max(1_000, to - from);
  const scale = Math.min(across(low[0], high[0], width), across(low[1], high[1], height));
  return { middle: [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2], scale: clamp(scale), width, height };
}

const clamp = (scale: number) => Math.min(largest, Math.max(smallest, scale));

export const toPx = (w: Window, [x, y]: Place): Place => [
  w.width / 2 + (x - w.middle[0]) * w.scale,
  w.height / 2 - (y - w.middle[1]) * w.scale,
];

export const toMm = (w: Window, [x, y]: Place): Place => [
  w.middle[0] + (x - w.width / 2) / w.scale,
  w.middle[1] - (y - w.height / 2) / w.scale,
];

/** The sheet has another size: what was in sight stays so. */
export function resized(w: Window, width: number, height: number): Window {
  const scale = clamp(w.scale * Math.min(1, width / w.width, height / w.height));
  return { ...w, width, height, scale };
}

/** Moved by so many pixels. */
export const pan = (w: Window, dx: number, dy: number): Window => ({
  ...w,
  middle: [w.middle[0] - dx / w.scale, w.middle[1] + dy / w.scale],
});

/** The place under the pixel `at` stays there. */
export function zoom(w: Window, factor: number, at: Place = [w.width / 2, w.height / 2]): Window {
  const place = toMm(w, at);
  const scale = clamp(w.scale * factor);
  return {
    ...w,
    scale,
    middle: [place[0] - (at[0] - w.width / 2) / scale, place[1] + (at[1] - w.height / 2) / scale],
  };
}

export const lookAt = (w: Window, place: Place): Window => ({ ...w, middle: place, scale: Math.max(w.scale, 0.08) });

/** A round length of about 120 pixels, for the scale bar, mm. */
export function barLength(w: Window): number {
  const wanted = 120 / w.scale;
  const power = 10 ** Math.floor(Math.log10(wanted));
  return [5, 2, 1].map((n) => n * power).find((n) => n <= wanted) ?? power;
}
