// Where a page is drawn.

export function pageRoot(): HTMLElement {
  const root = document.getElementById('page');
  if (!root) throw new Error('page.html has no element "page"');
  return root;
}
