// The floor on the page: fits the drawing to the window and runs the frames of the moving part.
import type { ComponentChildren } from 'preact';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { ClosedMarks, ZoneBands } from './closing_layer.tsx';
import { useLater } from '../page/later.ts';
import type { Store } from '../page/store.ts';
import { CartsLayer, type Glides } from './carts_layer.ts';
import { Names, Places, ScaleBar, SegmentHits, Tape } from './drawing.tsx';
import { layoutOf } from './layout.ts';
import { Legend } from './legend.tsx';
import { timeWords } from '../figures/words.ts';
import { WaitsLayer, type MergeWaits } from './waits_layer.tsx';
import { mostZoom } from './sight.ts';
import { SightButtons } from './sight_buttons.tsx';
import { useSight } from './use_sight.ts';

interface Props {
  store: Store;
  /** A person has pointed at a segment; left out where nothing can be pressed. */
  onSegment?(id: string): void;
  /** Laid over it: how long carts have waited for merges. */
  waits?: readonly MergeWaits[] | null;
  /** Below the drawing, in the same panel. */
  under?: ComponentChildren;
  /** A person has pointed at a cart. */
  onCart?(id: string): void;
  /** Always the whole floor: nobody stands near enough to press anything. */
  fixed?: boolean;
  /** At most so much of the window's height. */
  share?: number;
}

export function FloorView({ store, onSegment, onCart, waits, under, fixed = false, share = 0.62 }: Props) {
  const frame = useRef<HTMLDivElement>(null);
  const held = useRef<SVGGElement>(null);
  const ways = useRef<SVGGElement>(null);
  const bodies = useRef<SVGGElement>(null);
  const svg = useRef<SVGSVGElement>(null);
  const stage = useRef<SVGGElement>(null);
  const [size, setSize] = useState<{ width: number; maxHeight: number } | null>(null);
  const { plan } = store;
  const later = useLater();
  const glides = useMemo<Glides>(() => new Map(), [plan, store.scene]);

  useLayoutEffect(() => {
    const fit = () => {
      const width = frame.current?.clientWidth ?? 0;
      const maxHeight = Math.max(260, Math.round(window.innerHeight * share));
      if (width > 0) {
        setSize((old) =>
          old && old.width === width && Math.abs(old.maxHeight - maxHeight) < 90 ? old : { width, maxHeight },
        );
      }
    };
    fit();
    const watcher = new ResizeObserver(fit);
    if (frame.current) watcher.observe(frame.current);
    return () => watcher.disconnect();
  }, []);

  const whole = useMemo(
    () => (plan && size ? layoutOf(plan.floor, size.width, size.maxHeight) : null),
    [plan, size],
  );
  const sight = useSight(svg, stage, whole, whole ? mostZoom(whole.scale) : 1);
  const layout = useMemo(
    () =>
      plan && size && sight.zoom !== 1 ? layoutOf(plan.floor, size.width, size.maxHeight, sight.zoom) : whole,
    [plan, size, whole, sight.zoom],
  );

  useEffect(() => {
    if (!plan || !layout || !held.current || !ways.current || !bodies.current) return;
    const groups = { held: held.current, ways: ways.current, bodies: bodies.current };
    const layer = new CartsLayer(plan, layout, groups, glides);
    const update = () => {
      const { carts, downtimes } = store.board;
      const down = new Set(downtimes.flatMap((d) => (d.cart !== undefined && d.begun ? [d.cart] : [])));
      layer.update(carts, store.now(), store.chosen, down);
    };
    update();
    const stop = store.watchQuick(update);
    const calm = matchMedia('(prefers-reduced-motion: reduce)');
    let last = performance.now();
    let request = 0;
    const step = (now: number) => {
      request = requestAnimationFrame(step);
      const passed = now - last;
      // Whoever asked for less motion sees the carts placed anew once a second.
      if (calm.matches && passed < 1_000) return;
      last = now;
      // Without a live link nothing is known to move: the carts stay where they were last seen.
      if (store.link.kind === 'live') layer.frame(store.now(), calm.matches ? 10_000 : passed);
    };
    request = requestAnimationFrame(step);
    return () => {
      cancelAnimationFrame(request);
      stop();
    };
  }, [plan, layout, glides]);

  // The page is drawn anew several times a second while carts drive. What stands still is made once,
  // so that the view library passes over it.
  const { downtimes, zones } = store.board;
  const shown = plan && layout ? { plan, layout } : null;
  const still = [plan, layout];
  const bands = useMemo(() => shown && <ZoneBands {...shown} zones={zones} />, [...still, zones]);
  const tape = useMemo(() => shown && <Tape {...shown} />, still);
  const hits = useMemo(
    () => shown && later && onSegment && <SegmentHits {...shown} onSegment={onSegment} />,
    [...still, later, onSegment],
  );
  const places = useMemo(() => shown && <Places {...shown} />, still);
  const closed = useMemo(() => shown && <ClosedMarks {...shown} downtimes={downtimes} />, [...still, downtimes]);
  const names = useMemo(() => shown && <Names layout={shown.layout} />, still);

  return (
    <section class="panel floor" aria-label="Floor">
      <div
        class={sight.isIn ? 'floor-frame zoomed' : 'floor-frame'}
        ref={frame}
        data-testid="floor-frame"
        {...(!fixed && {
          tabIndex: 0,
          role: 'group',
          'aria-label': 'Drawing of the floor. Plus and minus zoom, arrows move it, 0 shows the whole floor.',
          onKeyDown: (event: KeyboardEvent) => {
            if (event.ctrlKey || event.metaKey || event.altKey || event.target !== event.currentTarget) return;
            if (sight.key(event.key)) event.preventDefault();
          },
        })}
      >
        {plan && layout ? (
          <svg
            ref={svg}
            data-testid="floor"
            class="floor-drawing"
            role="img"
            aria-label={`Floor plan of ${plan.floor.name}. The list of carts below says the same in words.`}
            width={layout.width}
            height={layout.height}
            viewBox={`0 0 ${layout.width} ${layout.height}`}
          >
            <g ref={stage} data-testid="stage">
              {bands}
              <g ref={held} />
              {tape}
              {hits}
              <g ref={ways} />
              {places}
              {closed}
              {names}
              <g
                ref={bodies}
                class={onCart ? 'pressable' : undefined}
                onClick={(event) => {
                  const id = (event.target as Element).closest<SVGGElement>('.cart')?.dataset['cart'];
                  if (id !== undefined) onCart?.(id);
                }}
              />
              {waits && <WaitsLayer plan={plan} layout={layout} merges={waits} words={timeWords} />}
            </g>
            <ScaleBar layout={layout} />
          </svg>
        ) : (
          <p class="floor-empty">{store.floorError || 'The floor is being fetched.'}</p>
        )}
      </div>
      {!fixed && plan && <SightButtons sight={sight} />}
      {under}
      {later && <Legend />}
    </section>
  );
}
