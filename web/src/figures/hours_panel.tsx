// Deliveries and lead times, hour by hour.
import { useMemo } from 'preact/hooks';
import uPlot from 'uplot';
import type { Figures } from '../api/types.ts';
import { axis, Chart, type Colour } from './chart.tsx';
import { Csv, Table } from './table.tsx';
import { minutes, timeWords } from './words.ts';

const hourWords = (ms: number) => new Date(ms).toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' });

export function HoursPanel({ figures, query }: { figures: Figures; query: string }) {
  const { hours } = figures;
  // In the middle of their hours.
  const data = useMemo<uPlot.AlignedData>(() => {
    const lead = (which: 'median' | 'p90') => hours.map((h) => (h.lead_s ? h.lead_s[which] / 60 : null));
    const middles = hours.map((h) => Date.parse(h.from) / 1_000 + 1_800);
    return [middles, hours.map((h) => h.delivered), lead('median'), lead('p90')];
  }, [hours]);
  const options = (colour: Colour): Omit<uPlot.Options, 'width' | 'height'> => ({
    cursor: { show: false },
    scales: {
      x: { range: () => [Date.parse(figures.from) / 1_000, Date.parse(figures.to) / 1_000] },
      y: { range: (_, __, most) => [0, Math.max(4, most * 1.1)] },
      min: { range: (_, __, most) => [0, Math.max(2, (most ?? 0) * 1.1)] },
    },
    axes: [
      { ...axis(colour), values: (_, at) => at.map((s) => hourWords(s * 1_000)), space: 60 },
      { ...axis(colour, 'delivered'), size: 44, incrs: [1, 2, 5, 10, 20, 50, 100, 200] },
      { ...axis(colour, 'lead time, min'), side: 1, scale: 'min', size: 44, grid: { show: false } },
    ],
    series: [
      {},
      { label: 'Delivered', fill: colour('--cart-0'), stroke: colour('--cart-0'), width: 0, paths: uPlot.paths.bars!({ size: [0.7, 40] }), points: { show: false } },
      { label: 'Lead time, median', scale: 'min', stroke: colour('--ink'), width: 2, points: { show: true, size: 6 } },
      { label: 'Lead time, 90 %', scale: 'min', stroke: colour('--bad'), width: 2, dash: [6, 4], points: { show: true, size: 6 } },
    ],
    legend: { live: false },
  });
  const busy = hours.filter((h) => h.delivered > 0);
  return (
    <section class="panel" aria-labelledby="hours-title" data-testid="hours">
      <h2 id="hours-title">Delivered, hour by hour</h2>
      <p>
        {figures.delivered} delivered.{' '}
        {figures.lead_s &&
          `From asked to delivered: half within ${timeWords(figures.lead_s.median)}, nine of ten within ${timeWords(figures.lead_s.p90)}.`}
      </p>
      <Chart label="deliveries and lead times by hour" height={260} data={data} options={options} />
      <details open={busy.length > 0 && busy.length <= 12}>
        <summary>As a table</summary>
        <Table label="Deliveries by hour" heads={['From', 'Delivered', 'Lead time, median, min', '90 %, min']}>
          {busy.map((h) => (
            <tr key={h.from}>
              <th scope="row">{hourWords(Date.parse(h.from))}</th>
              <td>{h.delivered}</td>
              <td>{h.lead_s ? minutes(h.lead_s.median) : ''}</td>
              <td>{h.lead_s ? minutes(h.lead_s.p90) : ''}</td>
            </tr>
          ))}
        </Table>
        {busy.length < hours.length && <p class="none">Hours without a delivery are left out here.</p>}
      </details>
      <Csv table="hours" query={query} />
    </section>
  );
}
