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

/** False if the browser refuses. */
export function remember(name: string, value: unknown): boolean {
  try {
    localStorage.setItem(`tagline.${name}`, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

/** What could not be kept; there is only what the page itself knows of it. */
const refused = new Set<string>();

/**
 * Changes what is kept as it is now, which another tab may have written; `mine` is what this tab
 * knows, for a browser that keeps nothing. `change` gives back the very same thing to change nothing.
 */
export function amend<T>(name: string, mine: T, change: (kept: T) => T): T {
  const kept = refused.has(name) ? mine : recall(name, mine);
  const next = change(kept);
  if (next === kept) return next;
  if (remember(name, next)) refused.delete(name);
  else refused.add(name);
  return next;
}

/** Told when another tab has changed what is kept under that name; the answer ends that. */
export function watchKept(name: string, what: () => void): () => void {
  const listen = (event: StorageEvent) => {
    if (event.key === `tagline.${name}`) what();
  };
  window.addEventListener('storage', listen);
  return () => window.removeEventListener('storage', listen);
}
