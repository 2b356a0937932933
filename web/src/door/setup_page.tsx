// The very first start: whoever can read the service's console makes the first account, a builder's.
import { useEffect, useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import { NameField, PasswordField } from './credentials.tsx';
import { DoorFrame } from './door_frame.tsx';

export function SetupPage() {
  const [code, setCode] = useState('');
  const [name, setName] = useState('');
  const [password, setPassword] = useState('');
  const [again, setAgain] = useState('');
  const [busy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState('');

  useEffect(() => {
    void api.me().then((answer) => {
      if (answer.ok || answer.status === 404) location.replace('/');
      else if (answer.status === 401 && !answer.setup) location.replace('/sign-in');
    });
  }, []);

  const submit = async (event: Event) => {
    event.preventDefault();
    if (busy) return;
    if (password !== again) return setTrouble('The two passwords differ. Type the same one twice.');
    setBusy(true);
    setTrouble('');
    const answer = await api.setUp(code.trim(), name, password);
    if (answer.ok) return location.replace('/');
    setBusy(false);
    setTrouble(answer.text);
  };

  return (
    <DoorFrame title="Set up">
      <p>
        Nobody has an account here yet. The service has written a one-time code on its console, in its
        log, when it started. With it you make the first account, a builder’s, who lets the others in.
      </p>
      <form onSubmit={(event) => void submit(event)}>
        <label class="field">
          <span>Code from the console</span>
          <input
            required
            autocomplete="off"
            autocapitalize="none"
            spellcheck={false}
            value={code}
            data-testid="setup-code"
            onInput={(event) => setCode(event.currentTarget.value)}
          />
        </label>
        <NameField label="Your name" value={name} set={setName} testId="setup-name" />
        <PasswordField label="A password" kind="new-password" value={password} set={setPassword} testId="setup-password" />
        <PasswordField label="The same again" kind="new-password" value={again} set={setAgain} testId="setup-again" />
        <p class="outcome bad" role="alert" data-testid="door-trouble">
          {trouble}
        </p>
        <button class="main wide" type="submit" disabled={busy} data-testid="set-up">
          Make the first account
        </button>
      </form>
    </DoorFrame>
  );
}
