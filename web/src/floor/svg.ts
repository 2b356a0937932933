// Makes SVG elements for the moving part of the drawing, which does not go through the view library.
import type { Position } from '../api/types.ts';
import { pathText } from './drawing.tsx';

const svgSpace = 'http://www.w3.org/2000/svg';

export function group(className: string, testId?: string): SVGGElement {
  const g = document.createElementNS(svgSpace, 'g');
  g.setAttribute('class', className);
  if (testId) g.dataset['testid'] = testId;
  return g;
}

export function path(className: string, points: Position[]): SVGPathElement {
  const p = document.createElementNS(svgSpace, 'path');
  p.setAttribute('class', className);
  p.setAttribute('d', pathText(points));
  return p;
}

export function circle(className: string, [x, y]: Position, r: number): SVGCircleElement {
  const c = document.createElementNS(svgSpace, 'circle');
  c.setAttribute('class', className);
  c.setAttribute('cx', x.toFixed(1));
  c.setAttribute('cy', y.toFixed(1));
  c.setAttribute('r', String(r));
  return c;
}

export function rect(className: string, x: number, y: number, w: number, h: number): SVGRectElement {
  const r = document.createElementNS(svgSpace, 'rect');
  r.setAttribute('class', className);
  for (const [k, v] of Object.entries({ x, y, width: w, height: h })) r.setAttribute(k, v.toFixed(1));
  return r;
}

export function text(className: string, [x, y]: Position, words: string): SVGTextElement {
  const t = document.createElementNS(svgSpace, 'text');
  t.setAttribute('class', className);
  t.setAttribute('x', x.toFixed(1));
  t.setAttribute('y', y.toFixed(1));
  t.textContent = words;
  return t;
}

export function titled(words: string): SVGTitleElement {
  const t = document.createElementNS(svgSpace, 'title');
  t.textContent = words;
  return t;
}
