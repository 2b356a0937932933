// Which alarm comes first: those that nobody has seen, and of these what stands still until a person
// acts. Pure.
import type { Alarm } from '../api/types.ts';
import { byText } from '../words/order.ts';

/** 3: everything stands; 2: something stands until a person acts; 1: it can wait. */
export function weight(alarm: Alarm): number {
  if (alarm.kind === 'all_stopped') return 3;
  const canWait = ['missed_tag', 'unknown_tag', 'battery_low'];
  return canWait.includes(alarm.kind) ? 1 : 2;
}

/** Unseen before seen, then the graver, then the later. */
export function inOrder(alarms: readonly Alarm[]): Alarm[] {
  return [...alarms].sort(
    (a, b) =>
      Number(Boolean(a.seen)) - Number(Boolean(b.seen)) ||
      weight(b) - weight(a) ||
      byText(b.since, a.since),
  );
}

export const unseen = (alarms: readonly Alarm[]) => alarms.filter((alarm) => !alarm.seen).length;
