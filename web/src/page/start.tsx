// How every page that shows the live state begins: one store, one view, drawn where page.html says.
import { render, type ComponentChild } from 'preact';
import { Store } from './store.ts';

export function startPage(view: (store: Store) => ComponentChild): void {
  const store = new Store();
  render(view(store), pageRoot());
  store.start();
}

export function pageRoot(): HTMLElement {
  const root = document.getElementById('page');
  if (!root) throw new Error('page.html has no element "page"');
  return root;
}
