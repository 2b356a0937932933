// Wheel, pinch, drag and keys on the drawing become zooming and moving; web/DESIGN.md says which
// gesture is whose. While a gesture goes on, what is drawn is only shifted and stretched; when it
// pauses, the drawing is made anew for its zoom, so that signs and type have their size in px again.
import { useCallback, useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';
import { arrowShare, moved, refitted, wheelFactor, wholeFloor, zoomed, zoomStep, type Frame, type Sight } from './sight.ts';

/** The drawing is made anew when the zoom has not changed for so long, ms. */
const redrawAfter = 140;
/** A press that moves no farther is a click, px. */
const clickReach = 5;

export interface SightControl {
  /** What the drawing must be made for. */
  zoom: number;
  /** Less than the whole floor is in sight. */
  isIn: boolean;
  /** No further in. */
  atMost: boolean;
  zoomIn(): void;
  zoomOut(): void;
  whole(): void;
  /** For the keyboard; true if the key meant something here. */
  key(key: string): boolean;
}

export function useSight(
  svg: RefObject<SVGSVGElement | null>,
  stage: RefObject<SVGGElement | null>,
  frame: Frame | null,
  most: number,
): SightControl {
  const sight = useRef<Sight>(wholeFloor);
  const size = useRef<Frame | null>(null);
  const [drawn, setDrawn] = useState(1);
  const [isIn, setIn] = useState(false);
  const [atMost, setAtMost] = useState(false);
  const drawnZoom = useRef(1);
  const timer = useRef(0);
  const limit = useRef(most);
  limit.current = most;

  const place = useCallback(() => {
    const { zoom, x, y } = sight.current;
    const stretch = zoom / drawnZoom.current;
    const at = `translate(${x.toFixed(2)} ${y.toFixed(2)})`;
    stage.current?.setAttribute('transform', stretch === 1 ? at : `${at} scale(${stretch.toFixed(5)})`);
  }, []);

  const look = useCallback((next: Sight) => {
    const zooms = next.zoom !== sight.current.zoom;
    sight.current = next;
    place();
    setIn(next.zoom > 1);
    setAtMost(next.zoom >= limit.current);
    if (!zooms) return;
    clearTimeout(timer.current);
    timer.current = window.setTimeout(() => setDrawn(sight.current.zoom), redrawAfter);
  }, []);

  const zoomAt = useCallback((factor: number, x?: number, y?: number) => {
    const f = size.current;
    if (f) look(zoomed(sight.current, factor, x ?? f.width / 2, y ?? f.height / 2, f, limit.current));
  }, []);
  const moveBy = useCallback((dx: number, dy: number) => {
    if (size.current) look(moved(sight.current, dx, dy, size.current));
  }, []);
  const whole = useCallback(() => look(wholeFloor), []);

  // After each drawing: what is shifted is the new one, and the frame may be another.
  useLayoutEffect(() => {
    drawnZoom.current = drawn;
    if (frame && size.current && (frame.width !== size.current.width || frame.height !== size.current.height)) {
      sight.current = refitted(sight.current, size.current, frame);
    }
    size.current = frame;
    place();
  }, [drawn, frame?.width, frame?.height]);

  const there = frame !== null;
  useEffect(() => {
    const element = svg.current;
    if (!element) return;
    const gestures = new Gestures(element, () => sight.current.zoom > 1, zoomAt, moveBy);
    return () => gestures.end();
  }, [there]);
  useEffect(() => () => clearTimeout(timer.current), []);

  const key = useCallback((name: string): boolean => {
    const f = size.current;
    if (!f) return false;
    if (name === '+' || name === '=') zoomAt(zoomStep);
    else if (name === '-') zoomAt(1 / zoomStep);
    else if (name === '0') whole();
    else {
      const steps: Record<string, [number, number]> = {
        ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1],
      };
      const step = steps[name];
      // With the whole floor in sight the arrows scroll the page.
      if (!step || sight.current.zoom === 1) return false;
      moveBy(step[0] * arrowShare * f.width, step[1] * arrowShare * f.height);
    }
    return true;
  }, []);

  return {
    zoom: drawn, isIn, atMost, whole, key,
    zoomIn: useCallback(() => zoomAt(zoomStep), []),
    zoomOut: useCallback(() => zoomAt(1 / zoomStep), []),
  };
}

/** The pointers on one drawing. */
class Gestures {
  private readonly pointers = new Map<number, { x: number; y: number }>();
  private readonly listening = new AbortController();
  private start: { x: number; y: number } | null = null;
  /** The press has moved too far to be a click. */
  private dragged = false;

  constructor(
    private readonly element: SVGSVGElement,
    private readonly isIn: () => boolean,
    private readonly zoomAt: (factor: number, x: number, y: number) => void,
    private readonly moveBy: (dx: number, dy: number) => void,
  ) {
    const { signal } = this.listening;
    // Not passive: while they are ours, the page must not scroll too.
    const ours = { signal, passive: false };
    element.addEventListener('wheel', (event) => this.wheel(event), ours);
    element.addEventListener('touchstart', (event) => this.keepPage(event), ours);
    element.addEventListener('touchmove', (event) => this.keepPage(event), ours);
    element.addEventListener('pointerdown', (event) => this.down(event), { signal });
    element.addEventListener('pointermove', (event) => this.move(event), { signal });
    element.addEventListener('pointerup', (event) => this.up(event), { signal });
    element.addEventListener('pointercancel', (event) => this.up(event), { signal });
    element.addEventListener('click', (event) => this.click(event), { signal, capture: true });
  }

  end(): void {
    this.listening.abort();
  }

  private at(event: MouseEvent): { x: number; y: number } {
    const box = this.element.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  private wheel(event: WheelEvent): void {
    // A pinch on a touchpad comes as a wheel with Ctrl.
    if (!event.ctrlKey && !event.metaKey && !this.isIn()) return;
    event.preventDefault();
    const { x, y } = this.at(event);
    this.zoomAt(wheelFactor(event.deltaY, event.deltaMode), x, y);
  }

  private keepPage(event: TouchEvent): void {
    if (event.touches.length > 1 && event.cancelable) event.preventDefault();
  }

  private down(event: PointerEvent): void {
    if (event.pointerType === 'mouse' && event.button !== 0) return;
    if (this.pointers.size === 0) {
      this.start = this.at(event);
      this.dragged = false;
    }
    this.pointers.set(event.pointerId, this.at(event));
  }

  private move(event: PointerEvent): void {
    const old = this.pointers.get(event.pointerId);
    if (!old) return;
    // Let go outside the drawing, where nobody told it.
    if (event.pointerType === 'mouse' && event.buttons === 0) return this.up(event);
    const now = this.at(event);
    const others = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, p]) => p);
    if (others.length > 1) return;
    const other = others[0];
    if (other) {
      this.dragged = true;
      const apart = (p: { x: number; y: number }) => Math.max(10, Math.hypot(p.x - other.x, p.y - other.y));
      const [x, y] = [(now.x + other.x) / 2, (now.y + other.y) / 2];
      this.moveBy((now.x - old.x) / 2, (now.y - old.y) / 2);
      this.zoomAt(apart(now) / apart(old), x, y);
    } else if (this.isIn()) {
      const { start } = this;
      if (!this.dragged && start && Math.hypot(now.x - start.x, now.y - start.y) < clickReach) return;
      if (!this.dragged) {
        this.dragged = true;
        this.element.setPointerCapture(event.pointerId); // it may leave the drawing meanwhile
      }
      this.moveBy(now.x - old.x, now.y - old.y);
    }
    this.pointers.set(event.pointerId, now);
  }

  private up(event: PointerEvent): void {
    this.pointers.delete(event.pointerId);
  }

  /** The end of a drag presses nothing. */
  private click(event: MouseEvent): void {
    if (!this.dragged) return;
    this.dragged = false;
    event.stopPropagation();
    event.preventDefault();
  }
}
