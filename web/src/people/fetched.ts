// A list that the service gives when asked: fetched once, and again after each change.
import { useCallback, useEffect, useState } from 'preact/hooks';
import type { Result } from '../api/client.ts';

export interface Fetched<T> {
  value: T | null;
  trouble: string;
  again(): void;
}

export function useFetched<T>(ask: () => Promise<Result<T>>): Fetched<T> {
  const [value, setValue] = useState<T | null>(null);
  const [trouble, setTrouble] = useState('');
  const again = useCallback(() => {
    void ask().then((answer) => {
      if (answer.ok) setValue(answer.value);
      setTrouble(answer.ok ? '' : answer.text);
    });
  }, []);
  useEffect(again, [again]);
  return { value, trouble, again };
}
