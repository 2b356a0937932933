// Signing in, and back to where one was.
import { useEffect, useRef, useState } from 'preact/hooks';
import { api } from '../api/client.ts';
import { backOf } from './back.ts';
import { NameField, PasswordField } from './credentials.tsx';
import { DoorFrame } from './door_frame.tsx';

export function SignInPage() {
  const [name, setName] = useState('');
  const [password, setPassword] = useState('');
  const [busy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState('');
  const form = useRef<HTMLFormElement>(null);
  const onwards = () => location.replace(backOf(location.search));

  useEffect(() => {
    void api.me().then((answer) => {
      // Signed in already, or a service that has no door.
      if (answer.ok || answer.status === 404) onwards();
      else if (answer.setup) location.replace('/setup');
    });
  }, []);

  const submit = async (event: Event) => {
    event.preventDefault();
    if (busy) return;
    setBusy(true);
    setTrouble('');
    const answer = await api.signIn(name, password);
    if (answer.ok) return onwards();
    setBusy(false);
    setTrouble(answer.text);
    setPassword('');
    form.current?.querySelector<HTMLInputElement>('input[type=password]')?.focus();
  };

  return (
    <DoorFrame title="Sign in">
      <form ref={form} onSubmit={(event) => void submit(event)}>
        <NameField label="Name" value={name} set={setName} testId="sign-in-name" />
        <PasswordField
          label="Password"
          kind="current-password"
          value={password}
          set={setPassword}
          testId="sign-in-password"
        />
        <p class="outcome bad" role="alert" data-testid="door-trouble">
          {trouble}
        </p>
        <button class="main wide" type="submit" disabled={busy} data-testid="sign-in">
          {busy ? 'Signing in' : 'Sign in'}
        </button>
      </form>
      <p class="none">No account, or the password is gone? A builder of this works sets you up.</p>
    </DoorFrame>
  );
}
