// The list of carts at the service (server/net/API.md, "The fleet").
import { ask } from '../api/client.ts';

export interface FleetCart {
  id: string;
  /** Point where it lives. */
  home: string | null;
  /** Its key stands in the fleet file as it is, not only as a digest. */
  key_in_clear: boolean;
}

/** A key as it is given out: it is shown once. */
export interface GivenKey {
  id: string;
  key: string;
  home?: string | null;
}

const path = (id: string, what: string) => `/api/fleet/${encodeURIComponent(id)}/${what}`;

export const office = {
  fleet: () => ask<{ carts: FleetCart[] }>({ method: 'GET', path: '/api/fleet' }),
  add: (id: string, home: string) =>
    ask<GivenKey>({ method: 'POST', path: '/api/fleet', body: home ? { id, home } : { id } }),
  changeKey: (id: string) => ask<GivenKey>({ method: 'POST', path: path(id, 'key') }),
  revoke: (id: string) => ask<undefined>({ method: 'POST', path: path(id, 'revoke') }),
};
