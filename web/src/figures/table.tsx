// A table that may be scrolled sideways on a phone, and the way to the same as CSV.
import type { ComponentChildren } from 'preact';

interface Props {
  label: string;
  heads: readonly string[];
  children: ComponentChildren;
}

export function Table({ label, heads, children }: Props) {
  return (
    <div class="table-frame" tabIndex={0} role="group" aria-label={`${label}, to be scrolled sideways`}>
      <table>
        <thead>
          <tr>
            {heads.map((head) => (
              <th key={head} scope="col">
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>{children}</tbody>
      </table>
    </div>
  );
}

export function Csv({ table, query }: { table: string; query: string }) {
  return (
    <p>
      <a href={`/api/figures/${table}.csv?${query}`} download data-testid={`csv-${table}`}>
        As CSV<span class="unseen"> ({table})</span>
      </a>
    </p>
  );
}
