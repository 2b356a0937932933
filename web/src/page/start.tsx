// How every page that shows the live state begins: one store, one view, drawn where page.html says.
import { render, type ComponentChild } from 'preact';
import { pageRoot } from './root.ts';
import { Store } from './store.ts';

/** A page that shows the floor waits so long for it, ms: as a rule the browser has fetched it by now
 *  (build.mjs), and on a phone drawing the page twice takes longer. */
const waitsForFloor = 250;

export function startPage(view: (store: Store) => ComponentChild): void {
  const store = new Store();
  render(view(store), pageRoot());
  void store.start();
}

/** Its page has `first: '/api/floor'` in build.mjs. */
export function startWithFloor(view: (store: Store) => ComponentChild): void {
  const store = new Store();
  const draw = () => render(view(store), pageRoot());
  const patience = new Promise((done) => setTimeout(done, waitsForFloor));
  const floor = new Promise<void>((done) => done(store.start())); // whatever fails, "stop all" is drawn
  void Promise.race([floor, patience]).finally(draw);
}
