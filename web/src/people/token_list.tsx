// Tokens for machines: made, shown once, revoked. A call button's may do nothing but ask for its job.
import { useState } from 'preact/hooks';
import { api, type NewToken, type Result } from '../api/client.ts';
import type { Role, Token } from '../api/types.ts';
import { allRoles, roleWords } from '../door/me.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { momentWords, placesWords } from '../words/words.ts';
import { useFetched } from './fetched.ts';

export function TokenList({ store }: { store: Store }) {
  const { value, trouble, again } = useFetched(api.tokens);
  const [asked, setAsked] = useState<Token | null>(null);
  const [made, setMade] = useState<(Token & { token: string }) | null>(null);
  const now = Date.now();
  const revoke = async ({ id, name }: Token) => {
    const answer = await api.revokeToken(id);
    store.say(answer.ok, answer.ok ? `The token “${name}” is revoked.` : answer.text);
    again();
  };
  return (
    <section class="panel" aria-labelledby="tokens-title" data-testid="tokens">
      <h2 id="tokens-title">Tokens for machines</h2>
      {trouble && <p class="outcome bad">{trouble}</p>}
      {value?.tokens.length === 0 && <p class="none">There is none.</p>}
      <ul class="rows">
        {value?.tokens.map((token) => (
          <li key={token.id} class="person" data-testid={`token-${token.id}`}>
            <span class="person-name">{token.name}</span>
            <span>{scopeWords(token, store)}</span>
            <span class="person-more">
              {Date.parse(token.expires) < now ? 'ran out' : 'good until'}{' '}
              {momentWords(Date.parse(token.expires), now)},{' '}
              {token.last_used ? `last used ${momentWords(Date.parse(token.last_used), now)}` : 'never used'}
            </span>
            <span class="person-actions">
              <button class="quiet" onClick={() => setAsked(token)} aria-label={`Revoke ${token.name}`} data-testid={`revoke-${token.id}`}>
                Revoke
              </button>
            </span>
          </li>
        ))}
      </ul>
      {made && <Made token={made} onClose={() => setMade(null)} />}
      <MakeToken
        store={store}
        make={async (wish) => {
          const answer = await api.addToken(wish);
          if (answer.ok) setMade(answer.value);
          again();
          return answer;
        }}
      />
      {asked && (
        <Confirm store={store} title={`Revoke “${asked.name}”?`} yes="Revoke it" danger onYes={() => void revoke(asked)} onClose={() => setAsked(null)}>
          <p>Whatever uses it is refused from now on. It can’t be had back; a new one can be made.</p>
        </Confirm>
      )}
    </section>
  );
}

function scopeWords(token: Token, store: Store): string {
  if (token.scope !== 'call') return roleWords[token.scope];
  return `Call button: ${placesWords({ from: token.from ?? '?', to: token.to ?? '?' }, store.plan)}`;
}

function Made({ token, onClose }: { token: Token & { token: string }; onClose(): void }) {
  const command =
    token.scope === 'call'
      ? `curl -X POST -H 'Authorization: Bearer ${token.token}' ${location.origin}/api/call`
      : `curl -H 'Authorization: Bearer ${token.token}' ${location.origin}/api/jobs`;
  return (
    <div class="notice good" role="status" data-testid="made-token">
      <div class="made">
        <p>
          <b>“{token.name}” is made. It is shown only now:</b> copy it into the machine, then put it away.
        </p>
        <input readOnly value={token.token} aria-label="The token" data-testid="token-text" onFocus={(event) => event.currentTarget.select()} />
        <p>Used like this:</p>
        <pre>{command}</pre>
      </div>
      <button class="quiet" onClick={onClose} data-testid="token-away">
        Put away
      </button>
    </div>
  );
}

interface MakeProps {
  store: Store;
  make(wish: NewToken): Promise<Result<unknown>>;
}

function MakeToken({ store, make }: MakeProps) {
  const [name, setName] = useState('');
  const [scope, setScope] = useState<Role | 'call'>('call');
  const [from, setFrom] = useState('');
  const [to, setTo] = useState('');
  const [days, setDays] = useState('365');
  const [trouble, setTrouble] = useState('');
  const submit = async (event: Event) => {
    event.preventDefault();
    const wish: NewToken = { name, scope, days: Number(days) };
    const answer = await make(scope === 'call' ? { ...wish, from, to } : wish);
    setTrouble(answer.ok ? '' : answer.text);
    if (answer.ok) setName('');
  };
  const station = (label: string, value: string, set: (v: string) => void, testId: string) => (
    <label class="field">
      <span>{label}</span>
      <select required value={value} data-testid={testId} onChange={(event) => set(event.currentTarget.value)}>
        <option value="">Choose a station</option>
        {store.plan?.floor.stations.map((s) => (
          <option key={s.id} value={s.id}>
            {s.name}
          </option>
        ))}
      </select>
    </label>
  );
  return (
    <details>
      <summary>Make a token</summary>
      <form class="columns" onSubmit={(event) => void submit(event)}>
        <label class="field">
          <span>What uses it</span>
          <input required maxLength={64} autocomplete="off" value={name} data-testid="token-name" onInput={(event) => setName(event.currentTarget.value)} />
        </label>
        <label class="field">
          <span>It may</span>
          <select value={scope} data-testid="token-scope" onChange={(event) => setScope(event.currentTarget.value as Role | 'call')}>
            <option value="call">Ask for one job, as a call button</option>
            {allRoles.map((role) => (
              <option key={role} value={role}>
                Do what a {roleWords[role].toLowerCase()} may
              </option>
            ))}
          </select>
        </label>
        {scope === 'call' && station('From', from, setFrom, 'token-from')}
        {scope === 'call' && station('To', to, setTo, 'token-to')}
        <label class="field">
          <span>Good for so many days</span>
          <input type="number" inputMode="numeric" min="1" max="3650" required value={days} data-testid="token-days" onInput={(event) => setDays(event.currentTarget.value)} />
        </label>
        <button class="main" type="submit" data-testid="make-token">
          Make it
        </button>
        <p class="outcome bad" role="alert" data-testid="token-trouble">
          {trouble}
        </p>
      </form>
    </details>
  );
}
