// One chart: uPlot draws it, in the page's colours, again when the window or the device's scheme
// changes. The table beside it says the same, so a screen reader is told only what it is.
import { useEffect, useRef } from 'preact/hooks';
import uPlot from 'uplot';

/** Colours of the page, as custom properties have them. */
export type Colour = (name: string) => string;

interface Props {
  label: string;
  height: number;
  /** The first is along the bottom; then each series. */
  data: uPlot.AlignedData;
  options(colour: Colour): Omit<uPlot.Options, 'width' | 'height'>;
}

export function Chart({ label, height, data, options }: Props) {
  const frame = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const place = frame.current;
    if (!place) return;
    let chart: uPlot | null = null;
    const draw = () => {
      chart?.destroy();
      const style = getComputedStyle(place);
      const colour = (name: string) => style.getPropertyValue(name).trim();
      chart = new uPlot({ ...options(colour), width: place.clientWidth, height }, data, place);
    };
    draw();
    const watcher = new ResizeObserver(() => {
      if (chart && chart.width !== place.clientWidth) chart.setSize({ width: place.clientWidth, height });
    });
    watcher.observe(place);
    const dark = matchMedia('(prefers-color-scheme: dark)');
    dark.addEventListener('change', draw);
    return () => {
      dark.removeEventListener('change', draw);
      watcher.disconnect();
      chart?.destroy();
    };
  }, [data]);
  return <div class="chart" ref={frame} role="img" aria-label={`Chart: ${label}. The table says the same.`} />;
}

/** Axes as all charts have them. */
export const axis = (colour: Colour, label?: string): uPlot.Axis => ({
  stroke: colour('--ink'),
  font: '13px system-ui',
  labelFont: '13px system-ui',
  grid: { stroke: colour('--line'), width: 1 },
  ticks: { stroke: colour('--line'), width: 1 },
  ...(label && { label, labelSize: 20 }),
});
