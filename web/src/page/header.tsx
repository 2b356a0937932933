// Top of the page: which floor, is the picture live, the service's clock, and Stop all.
import type { Store } from './store.ts';
import { useSeconds } from './store.ts';
import { StopAll } from './stop_all.tsx';
import { clockWords, spanWords, zonedClockWords } from '../words/words.ts';

export function Header({ store }: { store: Store }) {
  return (
    <header class="top">
      <div class="top-name">
        <h1>Tagline</h1>
        <span class="top-floor">{store.plan?.floor.name ?? ''}</span>
      </div>
      <LinkStatus store={store} />
      <StopAll store={store} />
    </header>
  );
}

function LinkStatus({ store }: { store: Store }) {
  useSeconds();
  const { link, board } = store;
  if (link.kind === 'live') {
    const pace = board.pace === 1 ? '' : `, demo clock ${board.pace} times faster`;
    return (
      <p class="link live" data-testid="link" data-link="live">
        <span class="link-sign" aria-hidden="true" />
        <span>
          Live <span class="link-more">{zonedClockWords(store.now())}{pace}</span>
        </span>
      </p>
    );
  }
  const words =
    link.kind === 'connecting'
      ? 'Connecting'
      : `Reconnecting since ${clockWords(link.since)} (${spanWords(Date.now() - link.since)})`;
  return (
    <p class={`link ${link.kind}`} data-testid="link" data-link={link.kind}>
      <span class="link-sign" aria-hidden="true" />
      <span>{words}</span>
    </p>
  );
}

/** Says in plain words that the picture is old; nothing while it is live. */
export function StaleBanner({ store }: { store: Store }) {
  const { link } = store;
  return (
    <div class="stale-place" role="status">
      {link.kind === 'lost' && (
        <p class="stale-banner" data-testid="stale">
          No link to the service since {clockWords(link.since)}. What you see is old: carts may have
          moved on as far as they were allowed. The page keeps trying.
        </p>
      )}
    </div>
  );
}
