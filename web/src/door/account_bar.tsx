// Ways to the other pages, who is signed in, and out again.
import { api } from '../api/client.ts';
import type { Store } from '../page/store.ts';
import { roleWords } from './me.ts';

const pages = [
  { path: '/', words: 'Board' },
  { path: '/here', words: 'My station' },
  { path: '/codes', words: 'Codes' },
  { path: '/figures', words: 'Figures' },
  { path: '/wall', words: 'Wall' },
  { path: '/past', words: 'Past' },
];

export function AccountBar({ store }: { store: Store }) {
  const { me } = store;
  const signOut = async () => {
    const answer = await api.signOut();
    if (answer.ok) location.assign('/sign-in');
    else store.say(false, `You are still signed in: ${answer.text}`);
  };
  const all = [
    ...pages,
    ...(me?.role === 'builder' ? [{ path: '/floor', words: 'Floor' }, { path: '/carts', words: 'Carts' }] : []),
    ...(me ? [{ path: '/people', words: 'People' }] : []),
  ];
  return (
    <nav class="account-bar" aria-label="Pages">
      {all.map(({ path, words }) => (
        <a key={path} href={path} aria-current={location.pathname === path ? 'page' : undefined}>
          {words}
        </a>
      ))}
      {me && (
        <span class="account" data-testid="account">
          {me.demo
            ? `Demo: everybody is let in as ${roleWords[me.role].toLowerCase()}`
            : `${me.name}, ${roleWords[me.role].toLowerCase()}`}
          {!me.demo && (
            <button class="quiet" onClick={() => void signOut()} data-testid="sign-out">
              Sign out
            </button>
          )}
        </span>
      )}
    </nav>
  );
}
