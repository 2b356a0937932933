// Changing one's own password: the old one is asked for, so that a signed-in browser left alone
// can't be used to take the account.
import { useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import type { Me } from '../api/types.ts';
import { PasswordField } from '../door/credentials.tsx';
import type { Store } from '../page/store.ts';

export function OwnPassword({ me, store }: { me: Me; store: Store }) {
  const [old, setOld] = useState('');
  const [password, setPassword] = useState('');
  const [again, setAgain] = useState('');
  const [trouble, setTrouble] = useState('');
  const submit = async (event: Event) => {
    event.preventDefault();
    if (password !== again) return setTrouble('The two new passwords differ. Type the same one twice.');
    const answer = await api.setOwnPassword(me.name, old, password);
    setTrouble(answer.ok ? '' : answer.text);
    if (!answer.ok) return;
    for (const set of [setOld, setPassword, setAgain]) set('');
    store.say(true, 'Your password is changed.');
  };
  return (
    <details>
      <summary>Change my password</summary>
      <form class="columns" onSubmit={(event) => void submit(event)} data-testid="own-password">
        {/* For password managers, which keep a password with its name. */}
        <input class="unseen" type="text" autocomplete="username" tabIndex={-1} readOnly value={me.name} aria-hidden="true" />
        <PasswordField label="Old password" kind="current-password" value={old} set={setOld} testId="own-old" />
        <PasswordField label="New password" kind="new-password" value={password} set={setPassword} testId="own-new" />
        <PasswordField label="The new one again" kind="new-password" value={again} set={setAgain} testId="own-again" />
        <button class="main" type="submit" data-testid="own-change">
          Change it
        </button>
        <p class="outcome bad" role="alert" data-testid="own-trouble">
          {trouble}
        </p>
      </form>
    </details>
  );
}
