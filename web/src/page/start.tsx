// How every page that shows the live state begins: one store, one view, drawn where page.html says.
import { render, type ComponentChild } from 'preact';
import { pageRoot } from './root.ts';
import { Store } from './store.ts';

export function startPage(view: (store: Store) => ComponentChild): void {
  const store = new Store();
  render(view(store), pageRoot());
  store.start();
}
