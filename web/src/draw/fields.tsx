// Fields of one thing of the floor: what is typed counts when the field is left, or with Enter.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';

interface FieldProps<T> {
  label: string;
  value: T;
  testId: string;
  set(value: T): void;
}

export function TextField({ label, value, testId, set, wrong = () => '' }: FieldProps<string> & { wrong?(value: string): string }) {
  // The page is drawn anew while somebody types, with every word of the live link.
  const [half, setHalf] = useState<string | null>(null);
  return (
    <label class="field">
      <span>{label}</span>
      <input
        value={half ?? value}
        data-testid={testId}
        onInput={(event) => setHalf(event.currentTarget.value)}
        onChange={(event) => {
          const input = event.currentTarget;
          const typed = input.value.trim();
          input.setCustomValidity(wrong(typed));
          if (!input.reportValidity()) return;
          setHalf(null);
          if (typed !== value) set(typed);
        }}
      />
    </label>
  );
}

/** `undefined`: left empty, so that the default counts; only where there is one. */
export function NumberField(props: FieldProps<number | undefined> & { standard?: string; least?: number }) {
  const { label, value, testId, set, standard, least } = props;
  const [half, setHalf] = useState<string | null>(null);
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="number"
        step="any"
        min={least}
        value={half ?? value ?? ''}
        required={standard === undefined}
        placeholder={standard ?? ''}
        data-testid={testId}
        onInput={(event) => setHalf(event.currentTarget.value)}
        onChange={(event) => {
          const input = event.currentTarget;
          if (!input.reportValidity()) return;
          setHalf(null);
          const typed = input.value === '' ? undefined : input.valueAsNumber;
          if (typed !== value) set(typed);
        }}
      />
    </label>
  );
}

export function CheckField({ label, value, testId, set }: FieldProps<boolean>) {
  return (
    <label class="check">
      <input type="checkbox" checked={value} data-testid={testId} onChange={(event) => set(event.currentTarget.checked)} />
      <span>{label}</span>
    </label>
  );
}

export function ChoiceField({ label, value, testId, set, children }: FieldProps<string> & { children: ComponentChildren }) {
  return (
    <label class="field">
      <span>{label}</span>
      <select value={value} data-testid={testId} onChange={(event) => set(event.currentTarget.value)}>
        {children}
      </select>
    </label>
  );
}
