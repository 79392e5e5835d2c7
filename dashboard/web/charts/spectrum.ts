import {
  Chart,
  LinearScale,
  LineController,
  LineElement,
  LogarithmicScale,
  PointElement,
  Tooltip,
} from 'chart.js';
import { significant } from '../format.ts';
import { labelStep } from '../state/live-series.ts';
import type { Point } from '../state/trend-series.ts';
import { axisStyle, chartColours, plain } from './theme.ts';

Chart.register(LineController, LineElement, PointElement, LinearScale, LogarithmicScale, Tooltip);

export interface SpectrumView {
  points: Point[];
  highestHz: number;
  /** Upper end of the vertical axis, m/s². */
  axisEnd: number;
  logarithmic: boolean;
}

/** Four decades below the upper end: about what a low-cost sensor resolves. */
const LOG_SPAN = 1e4;

const decadesOnly = (value: string | number): string =>
  Number.isInteger(Number(Math.log10(Number(value)).toFixed(6))) ? plain(Number(value)) : '';

/** Draws one axis of an amplitude spectrum. Draws only. */
export function createSpectrumChart(canvas: HTMLCanvasElement) {
  const colours = chartColours();
  const chart = new Chart(canvas, {
    type: 'line',
    data: {
      datasets: [
        {
          data: [],
          borderColor: colours.line,
          backgroundColor: colours.line,
          borderWidth: 1.25,
          pointRadius: 0,
          pointHitRadius: 12,
          parsing: false,
        },
      ],
    },
    options: {
      animation: false,
      responsive: true,
      maintainAspectRatio: false,
      interaction: { mode: 'nearest', axis: 'x', intersect: false },
      scales: {
        x: { type: 'linear', min: 0, ...axisStyle(colours, 'Frequency in Hz') },
        y: { type: 'linear', min: 0, ...axisStyle(colours, 'Acceleration in m/s² RMS') },
      },
      plugins: {
        tooltip: {
          displayColors: false,
          callbacks: {
            title: (items) => `${significant(items[0]?.parsed.x ?? null, 4)} Hz`,
            label: (item) => `${significant(item.parsed.y)} m/s² RMS`,
          },
        },
      },
    },
  });
  return {
    update({ points, highestHz, axisEnd, logarithmic }: SpectrumView) {
      chart.data.datasets[0]!.data = points as never;
      chart.options.scales!['x']!.max = highestHz;
      const style = axisStyle(colours, 'Acceleration in m/s² RMS');
      Object.assign(
        chart.options.scales!['y']!,
        logarithmic
          ? {
              type: 'logarithmic',
              min: axisEnd / LOG_SPAN,
              max: axisEnd,
              ticks: { ...style.ticks, callback: decadesOnly, stepSize: undefined },
            }
          : { type: 'linear', min: 0, max: axisEnd, ticks: { ...style.ticks, stepSize: labelStep(axisEnd) } },
      );
      chart.update('none');
    },
    destroy: () => chart.destroy(),
  };
}
