// The address that the codes lead to: the service's, as the phones reach it.
import { pathOf } from '../here/place.ts';

/** `base` without trouble (below); in ASCII only, whatever the name, so that every reader reads it. */
export const linkTo = (base: string, station: string) => new URL(base).origin + pathOf(station);

/** What is wrong with an address for phones; '' if nothing is. */
export function troubleWith(base: string): string {
  let url: URL;
  try {
    url = new URL(base);
  } catch {
    return 'This is no address. It starts with http:// or https://, like http://192.0.2.10:8080';
  }
  if (url.protocol !== 'http:' && url.protocol !== 'https:') {
    return 'The address must start with http:// or https://';
  }
  if (url.pathname !== '/' || url.search || url.hash) {
    return 'Only the name or number and the port: what comes after them is added for each station.';
  }
  if (/^(localhost|127\..*|\[::1\])$/.test(url.hostname)) {
    return (
      'This address leads each phone to itself, not to this service. Write the name or number under ' +
      'which phones reach it.'
    );
  }
  return '';
}
