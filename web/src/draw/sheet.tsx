// The drawing sheet: the floor to scale, to be drawn on with a mouse, a finger or the keys. Signs and
// type keep their size at any scale.
import type { ComponentChildren } from 'preact';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { lineOf as measured, lengthOf, placeAt } from '../floor/geometry.ts';
import type { Desk } from './desk.ts';
import { extent, lineOf, type FloorFile, type Place } from './file.ts';
import type { PictureDesk } from './picture_desk.ts';
import { snap, type Snapped } from './snap.ts';
import { Signs } from './signs.tsx';
import type { Tool } from './tools.tsx';
import { barLength, fit, lookAt, pan, resized, toMm, toPx, zoom, type Window } from './window.ts';

/** How far away, in pixels, a point still draws others into its line. */
const reachPx = 9;

interface Props {
  desk: Desk;
  picture: PictureDesk;
  tool: Tool;
  grid: number;
  /** What else lies on the drawing, above all. */
  over?: ((window: Window) => ComponentChildren) | undefined;
}

/** What a pressed pointer does until it is let go. */
type Drag = { what: 'pan' } | { what: 'move'; name: string; without: string | undefined } | null;

let drags = 0;

export function Sheet({ desk, picture, tool, grid, over }: Props) {
  const frame = useRef<HTMLDivElement>(null);
  const [window_, setWindow] = useState<Window | null>(null);
  const [line, setLine] = useState<Snapped | null>(null);
  const drag = useRef<Drag>(null);
  const last = useRef<Place>([0, 0]);
  const file = desk.file!;

  useLayoutEffect(() => {
    const resize = () => {
      const { clientWidth: width, clientHeight: height } = frame.current!;
      if (width > 0) setWindow((old) => (old ? resized(old, width, height) : fit(...fitted(file), width, height)));
    };
    resize();
    const watcher = new ResizeObserver(resize);
    watcher.observe(frame.current!);
    return () => watcher.disconnect();
  }, []);

  useEffect(() => {
    desk.look = (place) => setWindow((w) => w && lookAt(w, place));
  }, [desk]);

  // A wheel that zooms must not scroll the page, so it can't be listened to passively.
  useEffect(() => {
    const wheel = (event: WheelEvent) => {
      event.preventDefault();
      const at = within(event);
      setWindow((w) => w && zoom(w, Math.exp(-event.deltaY / 400), at));
    };
    const element = frame.current!;
    element.addEventListener('wheel', wheel, { passive: false });
    return () => element.removeEventListener('wheel', wheel);
  }, []);

  const within = (event: MouseEvent): Place => {
    const box = frame.current!.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };

  const snapped = (at: Place, without?: string): Snapped => snap(file, toMm(window_!, at), grid, reachPx / window_!.scale, without);

  const down = (event: PointerEvent) => {
    if (!window_ || event.button !== 0) return;
    const at = within(event);
    const hit = (event.target as Element).closest('[data-kind]') as SVGElement | null;
    const [kind, id, via] = [hit?.dataset['kind'], hit?.dataset['id'] ?? '', hit?.dataset['via']];
    last.current = at;
    drag.current = { what: 'pan' };
    if (tool === 'scale') return picture.mark(toMm(window_, at));
    if (tool === 'point' && kind !== 'point') return void desk.addPoint(snapped(at).at);
    if (tool === 'segment') return desk.layTo(kind === 'point' ? id : desk.addPoint(snapped(at).at));
    if (tool === 'bend' && kind === 'segment') return desk.bend(id, snapped(at).at);
    if (kind === 'point' || via !== undefined) {
      desk.choose({ kind: kind === 'point' ? 'point' : 'segment', id, ...(via === undefined ? {} : { via: Number(via) }) });
      drag.current = { what: 'move', name: `drag ${++drags}`, without: kind === 'point' ? id : undefined };
    } else if (kind === 'segment') {
      desk.choose({ kind: 'segment', id });
    } else {
      desk.choose(null);
    }
    (event.currentTarget as Element).setPointerCapture(event.pointerId);
  };

  const move = (event: PointerEvent) => {
    const { current } = drag;
    if (!window_ || !current || event.buttons === 0) return;
    const at = within(event);
    const [dx, dy] = [at[0] - last.current[0], at[1] - last.current[1]];
    if (current.what === 'pan') {
      if (tool === 'move') setWindow(pan(window_, dx, dy));
      last.current = at;
    } else if (line || Math.hypot(dx, dy) > 3) {
      const to = snapped(at, current.without);
      setLine(to);
      desk.moveTo(to.at, current.name);
    }
  };

  const up = () => {
    drag.current = null;
    setLine(null);
    desk.pause();
  };

  const key = (event: KeyboardEvent) => {
    const step = event.shiftKey ? Math.max(grid, 10) * 10 : Math.max(grid, 10);
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key] as Place | undefined;
    const place = desk.chosenPlace;
    const moves = desk.chosen?.kind === 'point' || desk.chosen?.via !== undefined;
    if (by && place && moves) desk.moveTo([place[0] + by[0] * step, place[1] + by[1] * step], `keys ${desk.chosen!.id}`);
    else if (by) setWindow((w) => w && pan(w, -by[0] * 60, by[1] * 60));
    else if (event.key === '+' || event.key === '=') setWindow((w) => w && zoom(w, 1.25));
    else if (event.key === '-') setWindow((w) => w && zoom(w, 0.8));
    else if (event.key === 'Delete') desk.removeChosen();
    else if (event.key === 'Escape') desk.laying ? desk.stopLaying() : desk.choose(null);
    else return;
    event.preventDefault();
  };

  return (
    <div class="sheet">
      <div
        class="sheet-frame"
        ref={frame}
        role="application"
        aria-label="Drawing of the floor. Arrow keys move the chosen point or corner, ten times as far with Shift; Delete removes what is chosen; plus and minus zoom. Everything on it is in the list beside it, too."
        tabIndex={0}
        data-testid="sheet"
        data-tool={tool}
        onPointerDown={down}
        onPointerMove={move}
        onPointerUp={up}
        onPointerCancel={up}
        onKeyDown={key}
      >
        {window_ && <Drawing window={window_} desk={desk} picture={picture} grid={grid} line={line} over={over} />}
      </div>
      <div class="sheet-zoom">
        <button onClick={() => setWindow((w) => w && zoom(w, 1.4))} aria-label="Zoom in" data-testid="zoom-in">+</button>
        <button onClick={() => setWindow((w) => w && zoom(w, 1 / 1.4))} aria-label="Zoom out" data-testid="zoom-out">−</button>
        <button onClick={() => setWindow((w) => w && fit(...fitted(file), w.width, w.height))} data-testid="fit">All of it</button>
      </div>
    </div>
  );
}

const fitted = (file: FloorFile): [Place, Place] => {
  const { low, high } = extent(file);
  return [low, high];
};

const text = (places: Place[]) => places.map(([x, y], k) => `${k ? 'L' : 'M'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');

interface DrawingProps {
  window: Window;
  desk: Desk;
  picture: PictureDesk;
  grid: number;
  line: Snapped | null;
  over: Props['over'];
}

function Drawing({ window, desk, picture, grid, line, over }: DrawingProps) {
  const file = desk.file!;
  const { chosen } = desk;
  const px = (place: Place) => toPx(window, place);
  const segments = useMemo(
    () =>
      file.segments.flatMap((segment) => {
        const places = lineOf(file, segment)?.map(px);
        return places ? [{ segment, places }] : [];
      }),
    [file, window],
  );
  const { laid, url, marks } = picture;
  const bar = barLength(window);
  const picked = chosen?.kind === 'segment' ? segments.find((s) => s.segment.id === chosen.id) : undefined;
  return (
    <svg width={window.width} height={window.height} aria-hidden="true">
      <Grid window={window} grid={grid} />
      {laid && url && (
        <image
          href={url}
          x={px(laid.at)[0]}
          y={px(laid.at)[1]}
          width={laid.width * laid.mmPerPx * window.scale}
          height={laid.height * laid.mmPerPx * window.scale}
          opacity={0.55}
          preserveAspectRatio="none"
          data-testid="plan-picture"
        />
      )}
      {segments.map(({ segment, places }) => (
        <g key={segment.id}>
          <path class={segment.spur ? 'draw-tape draw-spur' : 'draw-tape'} d={text(places)} />
          <Arrow places={places} both={segment.two_way || segment.spur} />
          <path class="draw-hit" d={text(places)} data-kind="segment" data-id={segment.id} data-testid={`drawn-${segment.id}`} />
        </g>
      ))}
      {picked && (
        <g class="draw-picked">
          <path d={text(picked.places)} />
          {(picked.segment.via ?? []).map((via, k) => (
            <rect
              key={k}
              class={k === chosen?.via ? 'draw-via draw-via-picked' : 'draw-via'}
              x={px(via)[0] - 6}
              y={px(via)[1] - 6}
              width="12"
              height="12"
              data-kind="segment"
              data-id={picked.segment.id}
              data-via={k}
              data-testid={`via-${k}`}
            />
          ))}
        </g>
      )}
      {line?.alignedX && <path class="draw-align" d={`M${px(line.at)[0]} 0V${window.height}`} />}
      {line?.alignedY && <path class="draw-align" d={`M0 ${px(line.at)[1]}H${window.width}`} />}
      <Signs file={file} window={window} chosen={chosen} laying={desk.laying} />
      {desk.shown && <circle class="draw-shown" cx={px(desk.shown)[0]} cy={px(desk.shown)[1]} r="22" data-testid="shown-place" />}
      {over?.(window)}
      {marks.map((mark, k) => (
        <path key={k} class="draw-mark" d={`M${px(mark)[0] - 9} ${px(mark)[1]}h18m-9 -9v18`} />
      ))}
      <g class="draw-bar">
        <path d={`M12 ${window.height - 17}v5h${(bar * window.scale).toFixed(1)}v-5`} />
        <text x={20 + bar * window.scale} y={window.height - 10}>{bar >= 1_000 ? `${bar / 1_000} m` : `${bar / 10} cm`}</text>
      </g>
    </svg>
  );
}

function Grid({ window, grid }: { window: Window; grid: number }) {
  let step = Math.max(grid, 50);
  while (step * window.scale < 14) step *= step % 3 === 0 ? 2 : 5;
  const [left, top] = toMm(window, [0, 0]);
  const [right, bottom] = toMm(window, [window.width, window.height]);
  let lines = '';
  for (let x = Math.ceil(left / step) * step; x <= right; x += step) lines += `M${toPx(window, [x, 0])[0].toFixed(1)} 0V${window.height}`;
  for (let y = Math.ceil(bottom / step) * step; y <= top; y += step) lines += `M0 ${toPx(window, [0, y])[1].toFixed(1)}H${window.width}`;
  return <path class="draw-grid" d={lines} />;
}

function Arrow({ places, both }: { places: Place[]; both: boolean | undefined }) {
  const way = measured(places);
  const length = lengthOf(way);
  if (length < 24) return null;
  const sign = (at: number, turn: number) => {
    const [[x, y], [ax, ay], [bx, by]] = [placeAt(way, at), placeAt(way, at - 2), placeAt(way, at + 2)];
    const angle = (Math.atan2(by - ay, bx - ax) * 180) / Math.PI + turn;
    return <path class="draw-arrow" d="M-4 -4.5 L2 0 L-4 4.5" transform={`translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${angle.toFixed(1)})`} />;
  };
  return (
    <>
      {sign(length / 2 + (both ? 6 : 2), 0)}
      {both && sign(length / 2 - 6, 180)}
    </>
  );
}
