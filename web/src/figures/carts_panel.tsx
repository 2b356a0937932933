// What the carts' time went into.
import { useMemo } from 'preact/hooks';
import uPlot from 'uplot';
import type { Figures } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import { momentWords } from '../words/words.ts';
import { axis, Chart, type Colour } from './chart.tsx';
import { Csv, Table } from './table.tsx';
import { shares, sumOf, timeOf, timeWords, uses, useWords } from './words.ts';

/** One after the other from the bottom: as many as there are uses. */
const colours = ['--cart-2', '--wait', '--cart-0', '--cart-3', '--cart-7', '--bad'];

export function CartsPanel({ figures, query }: { figures: Figures; query: string }) {
  const { carts } = figures;
  const rows = useMemo(() => [...carts, sumOf(carts)].map((cart) => ({ cart, parts: shares(uses.map((u) => cart[`${u}_s`])) })), [carts]);
  // Each bar is drawn from the bottom to the sum of its part and all below; the tallest first, so that
  // the others lie before it.
  const data = useMemo<uPlot.AlignedData>(() => {
    const upTo = (part: number) => rows.map(({ parts }) => parts.slice(0, part + 1).reduce((a, b) => a + b, 0));
    return [rows.map((_, i) => i), ...uses.map((_, part) => upTo(part)).reverse()];
  }, [rows]);
  const options = (colour: Colour): Omit<uPlot.Options, 'width' | 'height'> => ({
    cursor: { show: false },
    scales: { x: { time: false, range: () => [-0.6, rows.length - 0.4] }, y: { range: () => [0, 100] } },
    axes: [
      { ...axis(colour), splits: () => rows.map((_, i) => i), values: () => rows.map(({ cart }) => cart.cart.replace(/^cart-/, '')), grid: { show: false } },
      { ...axis(colour, '% of its time'), size: 50 },
    ],
    series: [
      {},
      ...uses
        .map((use, i) => ({
          label: useWords[use],
          fill: colour(colours[i]!),
          stroke: colour('--surface'),
          width: 1,
          paths: uPlot.paths.bars!({ size: [0.7, 60] }),
          points: { show: false },
        }))
        .reverse(),
    ],
    legend: { live: false },
  });
  return (
    <section class="panel" aria-labelledby="carts-title" data-testid="cart-times">
      <h2 id="carts-title">What the carts’ time went into</h2>
      {carts.length === 0 ? (
        <p class="none">Nothing is kept of that day.</p>
      ) : (
        <>
          {figures.kept_since && figures.kept_since > figures.from && (
            <p class="none">Kept since {momentWords(Date.parse(figures.kept_since), Date.parse(figures.time))}.</p>
          )}
          <Chart label="share of each cart's time" height={240} data={data} options={options} />
          <Table label="Share of the carts' time" heads={['%', ...uses.map((u) => useWords[u]), 'Of']}>
            {rows.map(({ cart, parts }) => (
              <tr key={cart.cart} data-testid={`time-${cart.cart}`}>
                <th scope="row">{cart.cart === 'All' ? 'All' : nameOf(cart.cart)}</th>
                {parts.map((part, i) => (
                  <td key={i}>{part}</td>
                ))}
                <td>{timeWords(timeOf(cart))}</td>
              </tr>
            ))}
          </Table>
          <p class="none">
            Out: off the floor, not connected, in doubt, stopped until a person releases it, or with a fault.
          </p>
        </>
      )}
      <Csv table="carts" query={query} />
    </section>
  );
}
