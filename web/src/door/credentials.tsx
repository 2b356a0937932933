// Fields for a name and a password, as password managers know them.

interface FieldProps {
  label: string;
  value: string;
  set(value: string): void;
  testId: string;
}

export function NameField({ label, value, set, testId }: FieldProps) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        name="name"
        autocomplete="username"
        autocapitalize="none"
        spellcheck={false}
        required
        maxLength={64}
        value={value}
        data-testid={testId}
        onInput={(event) => set(event.currentTarget.value)}
      />
    </label>
  );
}

interface PasswordProps extends FieldProps {
  kind: 'current-password' | 'new-password';
}

export function PasswordField({ label, value, set, testId, kind }: PasswordProps) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="password"
        name={kind}
        autocomplete={kind}
        required
        value={value}
        data-testid={testId}
        onInput={(event) => set(event.currentTarget.value)}
      />
    </label>
  );
}
