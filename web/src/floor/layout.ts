// From floor millimetres to screen pixels, and where the names go so that they cover neither the
// tape nor each other. Pure: a floor and a window in, places out.
import type { Floor, Position } from '../api/types.ts';
import { lineOf, lengthOf, placeAt } from './geometry.ts';

export interface Label {
  /** Id of the point it belongs to. */
  point: string;
  text: string;
  kind: 'station' | 'point';
  /** Middle of the text, px. */
  x: number;
  y: number;
}

export interface Layout {
  /** Size of the frame that it is seen in, px; the drawing is `zoom` times larger. */
  width: number;
  height: number;
  /** px per mm. */
  scale: number;
  /** Signs are drawn this much smaller in a narrow window, where the tape lies close together. */
  signs: number;
  px(at: Position): Position;
  /** How much a disc there would cover of names and signs, 0 = nothing. */
  covers(at: Position, radius: number): number;
  labels: Label[];
  /** Length of the scale bar, mm and px. */
  bar: { mm: number; px: number };
}

interface Box {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

/** Room for station names at the edge, px. */
const edgeOf = (narrow: boolean) => (narrow ? 24 : 34);
const barRoom = 26;
/** A window narrower than this is a phone, px. */
const narrowBelow = 600;
/** Average width of a letter over the size of the type (measured for system sans faces). */
const letter = 0.58;

/** Zoomed in so far, points have names on a phone too. */
const namesFrom = 2;

/** `zoom`: how many times larger than the whole floor in the frame; signs and type stay as they are. */
export function layoutOf(floor: Floor, width: number, maxHeight: number, zoom = 1): Layout {
  const bounds = boundsOf(floor);
  const w = Math.max(1, bounds.right - bounds.left);
  const h = Math.max(1, bounds.bottom - bounds.top);
  const narrow = width < narrowBelow;
  const edge = edgeOf(narrow);
  const roomX = Math.max(80, width - 2 * edge);
  const roomY = Math.max(80, maxHeight - 2 * edge - barRoom);
  const fitting = Math.min(roomX / w, roomY / h);
  const height = Math.round(h * fitting + 2 * edge + barRoom);
  const shiftX = (width - w * fitting) / 2;
  const scale = fitting * zoom;
  const px = ([x, y]: Position): Position => [
    shiftX * zoom + (x - bounds.left) * scale,
    edge * zoom + (bounds.bottom - y) * scale, // y is up on the floor, down on the screen
  ];
  const [farX, farY] = [width * zoom, height * zoom];
  const { labels, taken } = placeLabels(floor, px, farX, farY, narrow, !narrow || zoom >= namesFrom);
  const marks: Position[] = floor.points.map((p) => px([p.x, p.y]));
  return {
    width,
    height,
    scale,
    signs: narrow ? 0.75 : 1,
    px,
    covers: ([x, y], radius) => {
      const disc = { left: x - radius, right: x + radius, top: y - radius, bottom: y + radius };
      const out = disc.left < 0 || disc.right > farX || disc.top < 0 || disc.bottom > farY;
      return (
        (out ? 9 : 0) +
        taken.filter((b) => overlap(b, disc)).length * 3 +
        marks.filter((p) => inside(p, disc, 2)).length
      );
    },
    labels,
    bar: scaleBar(scale, width),
  };
}

/** Bounds in mm; `bottom` is the largest y. */
function boundsOf(floor: Floor): Box {
  const all: Position[] = floor.points.map((p) => [p.x, p.y]);
  for (const s of floor.segments) all.push(...s.line);
  const xs = all.map((p) => p[0]);
  const ys = all.map((p) => p[1]);
  if (all.length === 0) return { left: 0, right: 1_000, top: 0, bottom: 1_000 };
  return {
    left: Math.min(...xs),
    right: Math.max(...xs),
    top: Math.min(...ys),
    bottom: Math.max(...ys),
  };
}

/** The roundest length (1, 2 or 5 times a power of ten) near a sixth of the width. */
export function scaleBar(scale: number, width: number): { mm: number; px: number } {
  const wanted = Math.min(140, width / 5) / scale;
  const power = 10 ** Math.floor(Math.log10(wanted));
  const mm = [5, 2, 1].map((k) => k * power).find((m) => m <= wanted) ?? power;
  return { mm, px: mm * scale };
}

function placeLabels(
  floor: Floor,
  px: (at: Position) => Position,
  width: number,
  height: number,
  narrow: boolean,
  pointsToo: boolean,
): { labels: Label[]; taken: Box[] } {
  const tape = new Places();
  for (const s of floor.segments) {
    const line = lineOf(s.line.map(px));
    for (let d = 0; d <= lengthOf(line); d += 5) tape.add(placeAt(line, d));
  }
  const marks = new Places();
  for (const p of floor.points) marks.add(px([p.x, p.y]));
  const taken: Box[] = [];
  const labels: Label[] = [];
  const at = new Map(floor.points.map((p) => [p.id, px([p.x, p.y])]));

  const put = (point: string, text: string, kind: Label['kind'], size: number, mayCover: boolean) => {
    const place = at.get(point);
    if (!place) return;
    const w = text.length * size * letter + 6;
    const h = size * 1.25;
    let best: { box: Box; cost: number; x: number; y: number } | null = null;
    const far = kind === 'station' ? 13 : 7;
    for (const gap of kind === 'station' ? [far, far + 9, far + 20, far + 34] : [far]) {
      for (let k = 0; k < 16; k++) {
        const angle = (k * Math.PI) / 8;
        const x = place[0] + Math.cos(angle) * (gap + w / 2);
        const y = place[1] + Math.sin(angle) * (gap + h / 2);
        const box = { left: x - w / 2, right: x + w / 2, top: y - h / 2, bottom: y + h / 2 };
        // What is cheap to know first: a place that is no better by then needs no further looking.
        let cost = gap / 12 + Math.abs(Math.sin(angle) * Math.cos(angle)) * 0.5;
        if (box.left < 2 || box.right > width - 2 || box.top < 2 || box.bottom > height - 2) cost += 500;
        cost += 60 * taken.filter((b) => overlap(b, box)).length;
        if (best && cost >= best.cost) continue;
        cost += 8 * marks.inside(box, 5);
        if (best && cost >= best.cost) continue;
        cost += 3 * tape.inside(box, 2);
        if (!best || cost < best.cost) best = { box, cost, x, y };
      }
    }
    if (!best || (!mayCover && best.cost >= 3)) return;
    taken.push(best.box);
    labels.push({ point, text, kind, x: best.x, y: best.y });
  };

  for (const s of floor.stations) put(s.point, s.name, 'station', narrow ? 12 : 15, true);
  if (pointsToo) for (const p of floor.points) put(p.id, p.id, 'point', 11, false);
  return { labels, taken };
}

/** Places sorted into squares, so that a large floor's names find out quickly what they would cover. */
class Places {
  private readonly squares = new Map<string, Position[]>();

  add(at: Position): void {
    const key = `${Math.floor(at[0] / square)} ${Math.floor(at[1] / square)}`;
    const there = this.squares.get(key);
    if (there) there.push(at);
    else this.squares.set(key, [at]);
  }

  /** How many lie in the box made larger `by` so much. */
  inside(box: Box, by: number): number {
    let count = 0;
    for (let i = Math.floor((box.left - by) / square); i * square < box.right + by; i++) {
      for (let k = Math.floor((box.top - by) / square); k * square < box.bottom + by; k++) {
        for (const at of this.squares.get(`${i} ${k}`) ?? []) if (inside(at, box, by)) count++;
      }
    }
    return count;
  }
}
const square = 48;

const inside = ([x, y]: Position, b: Box, by: number) =>
  x > b.left - by && x < b.right + by && y > b.top - by && y < b.bottom + by;

const overlap = (a: Box, b: Box) =>
  a.left < b.right && a.right > b.left && a.top < b.bottom && a.bottom > b.top;
