// A picture of the floor plan under the drawing: where it lies, how large, and where it is kept: in
// this browser, nowhere else.
import type { Place } from './file.ts';

/** A picture with its upper left corner at `at`; `mmPerPx`: mm of floor to a pixel of it. */
export interface Laid {
  at: Place;
  mmPerPx: number;
  width: number;
  height: number;
}

/** 10 m across until somebody sets the scale, with its lower left corner at 0, 0. */
export const firstLaid = (width: number, height: number): Laid => {
  const mmPerPx = 10_000 / width;
  return { at: [0, height * mmPerPx], mmPerPx, width, height };
};

/**
 * Made larger or smaller so that the two places, pointed at on the floor as the picture lies now, are
 * `length` mm apart. The first one stays where it is. Nothing if they are the same place.
 */
export function scaled(laid: Laid, one: Place, other: Place, length: number): Laid | null {
  const now = Math.hypot(other[0] - one[0], other[1] - one[1]);
  if (!(now > 0) || !(length > 0)) return null;
  const factor = length / now;
  return {
    ...laid,
    mmPerPx: laid.mmPerPx * factor,
    at: [one[0] + (laid.at[0] - one[0]) * factor, one[1] + (laid.at[1] - one[1]) * factor],
  };
}

export interface Kept {
  picture: Blob;
  laid: Laid;
}

const store = 'picture';

function opened(): Promise<IDBDatabase> {
  return new Promise((done, fail) => {
    const request = indexedDB.open('tagline-floor-plan', 1);
    request.onupgradeneeded = () => request.result.createObjectStore(store);
    request.onsuccess = () => done(request.result);
    request.onerror = () => fail(request.error ?? new Error('no database'));
  });
}

async function within<T>(mode: IDBTransactionMode, what: (store: IDBObjectStore) => IDBRequest<T>): Promise<T | undefined> {
  try {
    const database = await opened();
    return await new Promise<T>((done, fail) => {
      const request = what(database.transaction(store, mode).objectStore(store));
      request.onsuccess = () => done(request.result);
      request.onerror = () => fail(request.error ?? new Error('no answer'));
    });
  } catch {
    return undefined; // a private window, say: then it lasts as long as the page
  }
}

export const load = () => within<Kept | undefined>('readonly', (s) => s.get('plan'));
export const keep = (kept: Kept) => within('readwrite', (s) => s.put(kept, 'plan'));
export const forget = () => within('readwrite', (s) => s.delete('plan'));
