// On the drawing: the carts of a try-out at the moment shown, and how long was waited for each merge.
// Bodies are moved directly, frame by frame; the view library draws them once.
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { Position } from '../api/types.ts';
import { identify } from '../carts/identity.ts';
import { WaitsLayer } from '../floor/waits_layer.tsx';
import type { Tried } from './desk.ts';
import { timeWords } from './words.ts';

interface Props {
  tried: Tried;
  /** Places of the floor, mm, to pixels of the drawing. */
  px(at: Position): Position;
  /** Pixels a mm. */
  scale: number;
  points: readonly { id: string; x: number; y: number }[];
  /** Of a cart, mm. */
  body: { length: number; width: number };
}

/** A body is never drawn smaller than this, so that its number can be read, px. */
const least = { length: 26, width: 17 };
/** The sign beside a body that stands and doesn't rest. */
const signs: Record<string, string> = { waiting: '=', charging: '+' };

export function PlayLayer({ tried, px, scale, points, body }: Props) {
  const { playback, tryout } = tried;
  const group = useRef<SVGGElement>(null);
  const ids = playback.movement.carts.map(({ cart }) => cart);
  const who = useMemo(() => identify(ids), [playback]);
  const plan = useMemo(() => ({ points: new Map(points.map((p) => [p.id, p])) }), [points]);
  const merges = useMemo(() => tryout.report.merges.map(({ point, waits, seconds }) => ({ point, waits, waited_s: seconds })), [tryout]);
  const length = Math.max(body.length * scale, least.length);
  const width = Math.max(body.width * scale, least.width);
  const nose = Math.min(length * 0.22, width * 0.45);
  const [l, w] = [length / 2, width / 2];
  const side = Math.min(length, width) * 0.92;

  useEffect(() => {
    const place = () => {
      const bodies = new Map([...group.current!.children].map((one) => [(one as SVGGElement).dataset['cart'], one as SVGGElement]));
      for (const { cart, seen } of playback.carts()) {
        const one = bodies.get(cart);
        if (!one) continue;
        const [x, y] = px([seen.x, seen.y]);
        one.setAttribute('transform', `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
        one.firstElementChild!.setAttribute('transform', `rotate(${(-seen.nose).toFixed(1)})`); // the screen's y is down
        one.dataset['x'] = seen.x.toFixed(0);
        one.dataset['y'] = seen.y.toFixed(0);
        one.dataset['doing'] = seen.doing;
        one.dataset['loaded'] = String(seen.loaded);
        one.querySelector('text.sign')!.textContent = signs[seen.doing] ?? '';
      }
    };
    place();
    return playback.watch(place);
  });

  useEffect(() => {
    const calm = matchMedia('(prefers-reduced-motion: reduce)');
    let last = performance.now();
    let request = 0;
    const step = (now: number) => {
      request = requestAnimationFrame(step);
      const passed = now - last;
      // Whoever asked for less motion sees the carts placed anew once a second.
      if (calm.matches && passed < 1_000 && playback.speed > 0) return;
      last = now;
      playback.advance(passed);
    };
    request = requestAnimationFrame(step);
    return () => cancelAnimationFrame(request);
  }, [playback]);

  return (
    <g class="tryout-layer" data-testid="tryout-layer">
      <WaitsLayer plan={plan} layout={{ px }} merges={merges} words={timeWords} />
      <g ref={group}>
        {ids.map((id) => {
          const { hue, pattern, mark } = who.get(id)!;
          return (
            <g key={id} class={`cart hue-${hue} pattern-${pattern}`} data-cart={id} data-testid={`play-${id}`}>
              <g class="hull">
                <path class="hull-shape" d={`M${-l} ${-w}H${l - nose}L${l} 0L${l - nose} ${w}H${-l}Z`} />
              </g>
              <rect class="load" x={-side / 2} y={-side / 2} width={side} height={side} />
              <text class="cart-number">{mark}</text>
              <g class="tryout-sign">
                <circle class="sign-disc wait" cx={l + 3} cy={-w - 5} r="7" />
                <text class="sign wait" x={l + 3} y={-w - 5} />
              </g>
            </g>
          );
        })}
      </g>
    </g>
  );
}
