// The accounts: who may do what, new ones, another role, a new password, and away with one.
import { useState } from 'preact/hooks';
import { api, type Result } from '../api/client.ts';
import type { Account, Me, Role } from '../api/types.ts';
import { NameField, PasswordField } from '../door/credentials.tsx';
import { allRoles, roleMay, roleWords } from '../door/me.ts';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { momentWords } from '../words/words.ts';
import { useFetched } from './fetched.ts';

interface Question {
  kind: 'role' | 'password' | 'remove';
  account: Account;
}

export function AccountList({ store, me }: { store: Store; me: Me }) {
  const { value, trouble, again } = useFetched(api.accounts);
  const [question, setQuestion] = useState<Question | null>(null);
  const act = async (asking: Promise<Result<unknown>>, done: string) => {
    const answer = await asking;
    store.say(answer.ok, answer.ok ? done : answer.text);
    again();
    return answer.ok;
  };
  return (
    <section class="panel" aria-labelledby="accounts-title" data-testid="accounts">
      <h2 id="accounts-title">Accounts</h2>
      {trouble && <p class="outcome bad">{trouble}</p>}
      <ul class="rows">
        {value?.accounts.map((account) => (
          <li key={account.name} class="person" data-testid={`account-${account.name}`}>
            <span class="person-name">
              {account.name}
              {account.name === me.name && <span class="tag">you</span>}
            </span>
            <span>{roleWords[account.role]}</span>
            <span class="person-more">
              {account.last_seen
                ? `last here ${momentWords(Date.parse(account.last_seen), Date.now())}`
                : 'was never here'}
            </span>
            <span class="person-actions">
              {(['role', 'password', 'remove'] as const)
                .filter((kind) => account.name !== me.name || kind === 'role')
                .map((kind) => (
                  <button
                    key={kind}
                    class="quiet"
                    onClick={() => setQuestion({ kind, account })}
                    aria-label={`${verbs[kind]}: ${account.name}`}
                    data-testid={`${kind}-${account.name}`}
                  >
                    {verbs[kind]}
                  </button>
                ))}
            </span>
          </li>
        ))}
      </ul>
      <NewAccount act={act} />
      {question && (
        <AccountQuestion key={question.kind + question.account.name} store={store} question={question} act={act} onClose={() => setQuestion(null)} />
      )}
    </section>
  );
}

const verbs = { role: 'Role', password: 'New password', remove: 'Remove' };

type Act = (asking: Promise<Result<unknown>>, done: string) => Promise<boolean>;

function RoleField({ value, set, testId }: { value: Role; set(role: Role): void; testId: string }) {
  return (
    <label class="field">
      <span>Role</span>
      <select value={value} data-testid={testId} onChange={(event) => set(event.currentTarget.value as Role)}>
        {allRoles.map((role) => (
          <option key={role} value={role}>
            {roleWords[role]}: {roleMay[role]}
          </option>
        ))}
      </select>
    </label>
  );
}

function NewAccount({ act }: { act: Act }) {
  const [name, setName] = useState('');
  const [role, setRole] = useState<Role>('operator');
  const [password, setPassword] = useState('');
  const submit = async (event: Event) => {
    event.preventDefault();
    const done = await act(
      api.addAccount(name, role, password),
      `${name} has an account. Hand over the password; it can be changed on this page.`,
    );
    if (!done) return;
    setName('');
    setPassword('');
  };
  return (
    <details>
      <summary>Add an account</summary>
      <form class="columns" onSubmit={(event) => void submit(event)}>
        <NameField label="Name" value={name} set={setName} testId="new-name" />
        <RoleField value={role} set={setRole} testId="new-role" />
        <PasswordField label="First password" kind="new-password" value={password} set={setPassword} testId="new-password" />
        <button class="main" type="submit" data-testid="add-account">
          Add
        </button>
      </form>
    </details>
  );
}

interface QuestionProps {
  store: Store;
  question: Question;
  act: Act;
  onClose(): void;
}

function AccountQuestion({ store, question: { kind, account }, act, onClose }: QuestionProps) {
  const [role, setRole] = useState(account.role);
  const [password, setPassword] = useState('');
  const { name } = account;
  if (kind === 'role') {
    return (
      <Confirm
        store={store}
        title={`What may ${name} do?`}
        yes="Give that role"
        notYet={role === account.role}
        onYes={() => void act(api.setRole(name, role), `${name}: ${roleWords[role].toLowerCase()} now.`)}
        onClose={onClose}
      >
        <RoleField value={role} set={setRole} testId="set-role" />
        <p>It holds at once, also where {name} is signed in now.</p>
      </Confirm>
    );
  }
  if (kind === 'password') {
    return (
      <Confirm
        store={store}
        title={`A new password for ${name}?`}
        yes="Set it"
        notYet={!password}
        onYes={() => void act(api.setPassword(name, password), `${name} has a new password.`)}
        onClose={onClose}
      >
        <PasswordField label="New password" kind="new-password" value={password} set={setPassword} testId="set-password" />
        <p>The old one does not work any more; {name} must sign in anew everywhere.</p>
      </Confirm>
    );
  }
  return (
    <Confirm
      store={store}
      title={`Remove ${name}’s account?`}
      yes="Remove it"
      danger
      onYes={() => void act(api.removeAccount(name), `${name} has no account any more.`)}
      onClose={onClose}
    >
      <p>{name} is signed out everywhere at once and can’t sign in again. What {name} did stays in the log.</p>
    </Confirm>
  );
}
