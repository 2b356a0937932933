// What was drawn before, and what was taken back. Values only: each step is a whole floor file, and
// they share what did not change.

export interface Undo<T> {
  readonly past: readonly T[];
  readonly now: T;
  readonly future: readonly T[];
  /** Steps with one name after each other are one step: a point that is dragged, a name that is typed. */
  readonly name: string;
}

const most = 500;

export const begin = <T>(now: T): Undo<T> => ({ past: [], now, future: [], name: '' });

/** `name` empty: a step of its own. */
export function did<T>(undo: Undo<T>, now: T, name = ''): Undo<T> {
  if (now === undo.now) return undo;
  const goesOn = name !== '' && name === undo.name;
  return { past: goesOn ? undo.past : [...undo.past, undo.now].slice(-most), now, future: [], name };
}

/** The next step is one of its own, whatever its name. */
export const pause = <T>(undo: Undo<T>): Undo<T> => (undo.name ? { ...undo, name: '' } : undo);

export function back<T>(undo: Undo<T>): Undo<T> {
  const last = undo.past.at(-1);
  if (last === undefined) return undo;
  return { past: undo.past.slice(0, -1), now: last, future: [undo.now, ...undo.future], name: '' };
}

export function forth<T>(undo: Undo<T>): Undo<T> {
  const [next, ...rest] = undo.future;
  if (next === undefined) return undo;
  return { past: [...undo.past, undo.now], now: next, future: rest, name: '' };
}
