// Words and numbers of the figures. Pure.
import type { Figures, Use } from '../api/types.ts';

export const uses: readonly Use[] = ['moving', 'waiting', 'handling', 'charging', 'idle', 'out'];

export const useWords: Record<Use, string> = {
  moving: 'Moving',
  waiting: 'Waiting',
  handling: 'At a station',
  charging: 'Charging',
  idle: 'Free',
  out: 'Out',
};

/** "4.2": minutes with one digit after the point. */
export const minutes = (seconds: number) => (seconds / 60).toFixed(1);

/** "45 s", "12 min", "3.4 h" */
export function timeWords(seconds: number): string {
  if (seconds < 120) return `${seconds} s`;
  if (seconds < 2 * 3_600) return `${Math.round(seconds / 60)} min`;
  return `${(seconds / 3_600).toFixed(1)} h`;
}

type CartTimes = Figures['carts'][number];

export const timeOf = (cart: CartTimes) => uses.reduce((sum, use) => sum + cart[`${use}_s`], 0);

/** Shares in whole per cent that add up to 100: the largest parts take up the rest. */
export function shares(parts: readonly number[]): number[] {
  const whole = parts.reduce((a, b) => a + b, 0);
  if (whole <= 0) return parts.map(() => 0);
  const exact = parts.map((part) => (part * 100) / whole);
  const rounded = exact.map(Math.floor);
  const missing = 100 - rounded.reduce((a, b) => a + b, 0);
  const byRest = exact.map((x, i) => [x - rounded[i]!, i] as const).sort((a, b) => b[0] - a[0]);
  for (const [, i] of byRest.slice(0, missing)) rounded[i]! += 1;
  return rounded;
}

/** All carts as one. */
export function sumOf(carts: readonly CartTimes[]): CartTimes {
  const sum: CartTimes = { cart: 'All', moving_s: 0, waiting_s: 0, handling_s: 0, charging_s: 0, idle_s: 0, out_s: 0 };
  for (const cart of carts) for (const use of uses) sum[`${use}_s`] += cart[`${use}_s`];
  return sum;
}

/** Waited, but for no merge: behind a cart at a station, say. */
export function waitedElsewhere(figures: Figures): number {
  const all = sumOf(figures.carts).waiting_s;
  return Math.max(0, all - figures.merges.reduce((sum, merge) => sum + merge.waited_s, 0));
}
