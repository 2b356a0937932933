// "I am at Glazing": which station this phone is at. The address says so when a code was scanned
// (/here/GLAZE); without one, it is where it was last time.
import { recall, remember } from '../page/memory.ts';

/** The station that the path of an address names: '/here/GLAZE' is 'GLAZE', '/here' is none. */
export function stationIn(path: string): string | null {
  const piece = /^\/here\/([^/]+)\/?$/.exec(path)?.[1];
  if (!piece) return null;
  try {
    return decodeURIComponent(piece);
  } catch {
    return null;
  }
}

export const pathOf = (station: string) => `/here/${encodeURIComponent(station)}`;

export function placeAtStart(): string | null {
  return stationIn(location.pathname) ?? recall<string | null>('here', null);
}

/** Remembered, and put in the address, so that the page can be kept as a bookmark. */
export function moveTo(station: string): void {
  remember('here', station);
  history.replaceState(null, '', pathOf(station));
}
