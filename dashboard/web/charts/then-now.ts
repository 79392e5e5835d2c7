import { Chart, LineController, LineElement, LogarithmicScale, PointElement, Tooltip } from 'chart.js';
import { significant } from '../format.ts';
import type { Point } from '../state/trend-series.ts';
import { axisStyle, chartColours, plain } from './theme.ts';

Chart.register(LineController, LineElement, PointElement, LogarithmicScale, Tooltip);

export interface ThenNowView {
  earlier: Point[];
  later: Point[];
}

/** 1, 2 and 5 of each decade: enough to read a place by. */
const ROUND = new Set(['1', '2', '5']);
const roundOnly = (value: string | number): string =>
  ROUND.has(
    Number(value)
      .toExponential(2)
      .replace(/\.?0*e.*$/, ''),
  )
    ? plain(Number(value))
    : '';
const decadesOnly = (value: string | number): string =>
  Number.isInteger(Number(Math.log10(Number(value)).toFixed(6))) ? plain(Number(value)) : '';

/** Two spectra over each other in one hue: now solid, then dashed. Draws only. */
export function createThenNowChart(canvas: HTMLCanvasElement) {
  const colours = chartColours();
  const line = {
    borderColor: colours.line,
    backgroundColor: colours.line,
    pointRadius: 0,
    pointHitRadius: 10,
  };
  const x = axisStyle(colours, 'Frequency in Hz');
  const y = axisStyle(colours, 'm/s² RMS per 1/12 octave');
  const chart = new Chart(canvas, {
    type: 'line',
    data: {
      datasets: [
        { label: 'then', data: [], ...line, borderWidth: 1.5, borderDash: [5, 4], parsing: false },
        { label: 'now', data: [], ...line, borderWidth: 2, parsing: false },
      ],
    },
    options: {
      animation: false,
      responsive: true,
      maintainAspectRatio: false,
      // Room for half of the last label.
      layout: { padding: { right: 14 } },
      interaction: { mode: 'x', intersect: false },
      scales: {
        x: { type: 'logarithmic', ...x, ticks: { ...x.ticks, autoSkip: false, callback: roundOnly } },
        y: { type: 'logarithmic', ...y, ticks: { ...y.ticks, callback: decadesOnly } },
      },
      plugins: {
        tooltip: {
          displayColors: false,
          callbacks: {
            title: (items) => `${significant(items[0]?.parsed.x ?? null)} Hz`,
            label: (item) => `${item.dataset.label}: ${significant(item.parsed.y)} m/s² RMS`,
          },
        },
      },
    },
  });
  return {
    update({ earlier, later }: ThenNowView) {
      chart.data.datasets[0]!.data = earlier as never;
      chart.data.datasets[1]!.data = later as never;
      const hz = [...earlier, ...later].map((point) => point.x);
      if (hz.length > 0)
        Object.assign(chart.options.scales!['x']!, { min: Math.min(...hz), max: Math.max(...hz) });
      chart.update('none');
    },
    destroy: () => chart.destroy(),
  };
}
