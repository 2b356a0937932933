// A press on a cart of the drawing.
import type { Store } from '../page/store.ts';

/** One that drives shows its way, one that stands says why. */
export function pointedAtCart(store: Store, id: string): void {
  store.choose(id);
  if (store.board.carts.get(id)?.why.length) store.ask({ kind: 'cart', id });
}
