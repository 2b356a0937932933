// A local day as the stretch of time that the service is asked for. Pure.

/** "2026-11-26": the local day of a moment, as a date field has it. */
export function dayOf(ms: number): string {
  const at = new Date(ms);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

/** From local midnight to the next one: 23 or 25 hours where the clocks change. */
export function rangeOf(day: string): { from: string; to: string } {
  const [year, month, date] = day.split('-').map(Number) as [number, number, number];
  return {
    from: new Date(year, month - 1, date).toISOString(),
    to: new Date(year, month - 1, date + 1).toISOString(),
  };
}

export const queryOf = (day: string) => new URLSearchParams(rangeOf(day)).toString();
