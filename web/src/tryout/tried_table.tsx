// The last try-outs side by side: what another drawing, or one more cart, brings.
import type { Tried, TryoutDesk } from './desk.ts';
import { gain, gainWords, jobsWords, metOf, percent, timeWords } from './words.ts';

const metSigns = new Map<boolean | null, string>([[true, 'met'], [false, 'not met'], [null, '']]);

export function TriedTable({ desk, drawing }: { desk: TryoutDesk; drawing: object }) {
  return (
    <>
      <h3 id="tried-title">The last try-outs</h3>
      <p class="none">Times are from asking to delivery.</p>
      <div class="tryout-table" tabIndex={0} role="group" aria-labelledby="tried-title">
        <table data-testid="tried" aria-labelledby="tried-title">
          <thead>
            <tr>
              <th scope="col">Drawing, carts</th>
              <th scope="col">Deliveries an hour</th>
              <th scope="col">One more cart brought</th>
              <th scope="col">Half within</th>
              <th scope="col">95 of 100</th>
              <th scope="col">Waiting</th>
              <th scope="col">Asked for</th>
              <th scope="col">For how long, jobs, seed</th>
            </tr>
          </thead>
          <tbody>
            {desk.tried.map((one) => <Row key={one} desk={desk} one={one} onSheet={one.drawing === drawing} />)}
          </tbody>
        </table>
      </div>
    </>
  );
}

function Row({ desk, one, onSheet }: { desk: TryoutDesk; one: Tried; onSheet: boolean }) {
  const { wish, letter } = one;
  const { report } = one.tryout;
  return (
    <tr data-testid={`tried-${letter}-${wish.carts}`}>
      <th scope="row">
        <button class="quiet" aria-pressed={desk.shown === one} onClick={() => desk.show(one)} data-testid={`show-${letter}-${wish.carts}`}>
          {letter}, {wish.carts}
          {onSheet && <span class="unseen"> (on the sheet)</span>}
        </button>
      </th>
      <td>{report.deliveries_per_hour.toFixed(1)}</td>
      <td>{gainWords(gain(one, desk.tried))}</td>
      <td>{report.deliveries ? timeWords(report.lead_time_s.p50) : ''}</td>
      <td>{report.deliveries ? timeWords(report.lead_time_s.p95) : ''}</td>
      <td>{percent(report.share.waiting)}</td>
      <td>{metSigns.get(metOf(report, wish))}</td>
      <td>
        {wish.hours} h, {jobsWords(wish)}, {wish.seed}
      </td>
    </tr>
  );
}
