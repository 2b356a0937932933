// Late jobs, waits for merges, and tags that are read least.
import type { Figures } from '../api/types.ts';
import type { FloorPlan } from '../floor/geometry.ts';
import { momentWords, placesWords } from '../words/words.ts';
import { Csv, Table } from './table.tsx';
import { timeWords, waitedElsewhere } from './words.ts';

/** Shown of each list; the CSV has all. */
const shown = 12;

interface Props {
  figures: Figures;
  query: string;
  plan: FloorPlan | null;
}

export function LatePanel({ figures, query, plan }: Props) {
  const { due, late_jobs: late } = figures;
  const now = Date.parse(figures.time);
  return (
    <section class="panel" aria-labelledby="late-title" data-testid="late">
      <h2 id="late-title">Late jobs</h2>
      {due.jobs === 0 ? (
        <p class="none">No job was due on that day.</p>
      ) : (
        <p data-testid="due">
          Of {due.jobs} due: {due.on_time} on time, {due.late} late, {due.overdue} overdue and still open, {due.to_come} to come
          {due.ended_otherwise > 0 && `, ${due.ended_otherwise} cancelled or stranded`}.
        </p>
      )}
      {late.length > 0 && (
        <Table label="Late jobs" heads={['Job', 'Way', 'Due', 'Delivered', 'Late by']}>
          {late.slice(0, shown).map((job) => (
            <tr key={job.id} data-testid={`late-${job.id}`}>
              <th scope="row">{job.id}</th>
              <td>{placesWords(job, plan)}</td>
              <td>{momentWords(Date.parse(job.due), now)}</td>
              <td>{job.delivered ? momentWords(Date.parse(job.delivered), now) : 'still open'}</td>
              <td>{timeWords(job.late_s)}</td>
            </tr>
          ))}
        </Table>
      )}
      <More all={due.late + due.overdue} />
      <Csv table="late" query={query} />
    </section>
  );
}

export function MergesPanel({ figures, query }: Props) {
  const waited = figures.merges.filter((merge) => merge.waited_s > 0 || merge.waits > 0);
  const elsewhere = waitedElsewhere(figures);
  return (
    <section class="panel" aria-labelledby="merges-title" data-testid="merge-waits">
      <h2 id="merges-title">Waits for merges</h2>
      {waited.length === 0 ? (
        <p class="none">No cart waited for a merge.</p>
      ) : (
        <Table label="Waits for merges" heads={['Merge at', 'Waits', 'Together', 'Each, s']}>
          {waited.slice(0, shown).map((merge) => (
            <tr key={merge.point} data-testid={`merge-${merge.point}`}>
              <th scope="row">{merge.point}</th>
              <td>{merge.waits}</td>
              <td>{timeWords(merge.waited_s)}</td>
              <td>{merge.waits ? Math.round(merge.waited_s / merge.waits) : ''}</td>
            </tr>
          ))}
        </Table>
      )}
      <More all={waited.length} />
      {elsewhere > 0 && <p class="none">Waited elsewhere, such as behind a cart at a station: {timeWords(elsewhere)}.</p>}
      <p>
        <a href="/#waits">Show them on the floor</a>
      </p>
      <Csv table="merges" query={query} />
    </section>
  );
}

export function TagsPanel({ figures, query }: Props) {
  const missed = figures.tags.filter((tag) => tag.missed > 0);
  const passes = figures.tags.reduce((sum, tag) => sum + tag.read + tag.missed, 0);
  return (
    <section class="panel" aria-labelledby="tags-title" data-testid="tag-reads">
      <h2 id="tags-title">Tags read least</h2>
      {missed.length === 0 ? (
        <p class="none">{passes === 0 ? 'No tag was passed.' : `All tags were read at each of ${passes} passes.`}</p>
      ) : (
        <Table label="Tags read least" heads={['Point', 'Passed', 'Not read', 'Not read, %']}>
          {missed.slice(0, shown).map((tag) => (
            <tr key={tag.point} data-testid={`tag-${tag.point}`}>
              <th scope="row">{tag.point}</th>
              <td>{tag.read + tag.missed}</td>
              <td>{tag.missed}</td>
              <td>{((tag.missed * 100) / (tag.read + tag.missed)).toFixed(1)}</td>
            </tr>
          ))}
        </Table>
      )}
      <More all={missed.length} />
      <Csv table="tags" query={query} />
    </section>
  );
}

function More({ all }: { all: number }) {
  if (all <= shown) return null;
  return <p class="none">And {all - shown} more, in the CSV.</p>;
}
