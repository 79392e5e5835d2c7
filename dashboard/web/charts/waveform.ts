import { Chart, LinearScale, LineController, LineElement, PointElement } from 'chart.js';
import type { Point } from '../state/trend-series.ts';
import { axisStyle, chartColours } from './theme.ts';

Chart.register(LineController, LineElement, PointElement, LinearScale);

export interface WaveformView {
  points: Point[];
  durationS: number;
  /** The vertical axis runs from minus to plus this, m/s². */
  axisEnd: number;
}

/** Draws one axis of a waveform. Draws only: points and scale come ready. */
export function createWaveformChart(canvas: HTMLCanvasElement) {
  const colours = chartColours();
  const chart = new Chart(canvas, {
    type: 'line',
    data: {
      datasets: [{ data: [], borderColor: colours.line, borderWidth: 1.25, pointRadius: 0, parsing: false }],
    },
    options: {
      animation: false,
      responsive: true,
      maintainAspectRatio: false,
      events: [],
      scales: {
        x: { type: 'linear', min: 0, max: 1, ...axisStyle(colours, 'Time in s') },
        y: { type: 'linear', min: -1, max: 1, ...axisStyle(colours, 'Acceleration in m/s²') },
      },
    },
  });
  return {
    update({ points, durationS, axisEnd }: WaveformView) {
      chart.data.datasets[0]!.data = points as never;
      chart.options.scales!['x']!.max = durationS;
      const y = axisStyle(colours, 'Acceleration in m/s²');
      Object.assign(chart.options.scales!['y']!, {
        min: -axisEnd,
        max: axisEnd,
        ticks: { ...y.ticks, stepSize: axisEnd / 2 },
      });
      chart.update('none');
    },
    destroy: () => chart.destroy(),
  };
}
