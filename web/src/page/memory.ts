// What this device remembers between visits. A browser may refuse it (private windows); then the
// page forgets, and works all the same.

export function recall<T>(name: string, otherwise: T): T {
  try {
    const text = localStorage.getItem(`tagline.${name}`);
    return text === null ? otherwise : (JSON.parse(text) as T);
  } catch {
    return otherwise;
  }
}

export function remember(name: string, value: unknown): void {
  try {
    localStorage.setItem(`tagline.${name}`, JSON.stringify(value));
  } catch {
    // Nothing to be done: see above.
  }
}
