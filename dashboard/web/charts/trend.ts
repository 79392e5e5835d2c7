import {
  Chart,
  Filler,
  LinearScale,
  LineController,
  LineElement,
  type Plugin,
  PointElement,
  Tooltip,
} from 'chart.js';
import { clock, significant } from '../format.ts';
import { minutesBetweenLabels, type StretchChange, type TrendSeries } from '../state/trend-series.ts';
import { axisStyle, type ChartColours, chartColours } from './theme.ts';

Chart.register(LineController, LineElement, PointElement, LinearScale, Filler, Tooltip);

export interface TrendView {
  series: TrendSeries;
  fromMs: number;
  toMs: number;
  yTitle: string;
  unit: string;
  /** Levels drawn across, with their names: the zone boundaries. Empty for values that have no zones. */
  boundaries: { level: number; name: string }[];
}

/** Where a new stretch began: levels on both sides need not match. */
function changeLines(colours: ChartColours, current: () => readonly StretchChange[]): Plugin<'line'> {
  return {
    id: 'changes',
    beforeDatasetsDraw({ ctx, chartArea, scales }) {
      ctx.save();
      ctx.strokeStyle = colours.flag;
      ctx.fillStyle = colours.text;
      ctx.font = '12px system-ui, sans-serif';
      for (const { atMs, what } of current()) {
        const at = scales['x']!.getPixelForValue(atMs);
        if (at < chartArea.left || at > chartArea.right) continue;
        const isLeft = at < (chartArea.left + chartArea.right) / 2;
        ctx.beginPath();
        ctx.moveTo(at, chartArea.top);
        ctx.lineTo(at, chartArea.bottom);
        ctx.stroke();
        ctx.textAlign = isLeft ? 'left' : 'right';
        ctx.fillText(what, at + (isLeft ? 4 : -4), chartArea.top + 12);
      }
      ctx.restore();
    },
  };
}

/** Zone boundaries as thin named lines; those outside the picture are left out rather than squeezing the data. */
function boundaryLines(colours: ChartColours, current: () => TrendView['boundaries']): Plugin<'line'> {
  return {
    id: 'boundaries',
    beforeDatasetsDraw({ ctx, chartArea, scales }) {
      const y = scales['y']!;
      ctx.save();
      ctx.strokeStyle = colours.text;
      ctx.fillStyle = colours.text;
      ctx.font = '12px system-ui, sans-serif';
      ctx.setLineDash([2, 4]);
      for (const { level, name } of current()) {
        const at = y.getPixelForValue(level);
        if (at < chartArea.top || at > chartArea.bottom) continue;
        ctx.beginPath();
        ctx.moveTo(chartArea.left, at);
        ctx.lineTo(chartArea.right, at);
        ctx.stroke();
        ctx.fillText(name, chartArea.left + 4, at - 4);
      }
      ctx.restore();
    },
  };
}

/** Draws the trend line, its range from minimum to maximum, and a mark where readings were flagged. Draws only. */
export function createTrendChart(canvas: HTMLCanvasElement) {
  const colours = chartColours();
  let boundaries: TrendView['boundaries'] = [];
  let changes: readonly StretchChange[] = [];
  let unit = '';
  const range = { borderWidth: 0, pointRadius: 0, pointHitRadius: 0, backgroundColor: colours.fill };
  const chart = new Chart(canvas, {
    type: 'line',
    data: {
      datasets: [
        { label: 'minimum', data: [], ...range },
        { label: 'maximum', data: [], ...range, fill: 0 },
        {
          label: 'value',
          data: [],
          borderColor: colours.line,
          backgroundColor: colours.line,
          borderWidth: 1.75,
          // A single slot between two gaps has no line: its point must show.
          pointRadius: (context) => (isLonely(context.dataset.data, context.dataIndex) ? 2.5 : 0),
          pointHitRadius: 12,
        },
        {
          label: 'flagged',
          data: [],
          showLine: false,
          pointStyle: 'crossRot',
          pointRadius: 3.5,
          borderColor: colours.flag,
          clip: false,
        },
      ],
    },
    options: {
      animation: false,
      responsive: true,
      maintainAspectRatio: false,
      interaction: { mode: 'nearest', axis: 'x', intersect: false },
      scales: {
        x: {
          type: 'linear',
          ...axisStyle(colours, 'Time of day'),
          afterBuildTicks: (axis) => {
            const stepMs = minutesBetweenLabels(axis.max - axis.min) * 60_000;
            axis.ticks = [];
            for (let value = Math.ceil(axis.min / stepMs) * stepMs; value <= axis.max; value += stepMs)
              axis.ticks.push({ value });
          },
          ticks: { color: colours.text, maxRotation: 0, callback: (value) => clock(Number(value)) },
        },
        y: { type: 'linear', beginAtZero: true, ...axisStyle(colours, '') },
      },
      plugins: {
        tooltip: {
          displayColors: false,
          filter: ({ datasetIndex }) => datasetIndex === 2 || datasetIndex === 3,
          callbacks: {
            title: (items) => (items[0] ? clock(items[0].parsed.x ?? 0, true) : ''),
            label: (item) =>
              item.datasetIndex === 3
                ? 'flagged readings left out'
                : `${significant(item.parsed.y)} ${unit}`.trim(),
          },
        },
      },
    },
    plugins: [boundaryLines(colours, () => boundaries), changeLines(colours, () => changes)],
  });
  return {
    update(view: TrendView) {
      boundaries = view.boundaries;
      changes = view.series.changes;
      unit = view.unit;
      const [minimum, maximum, value, flagged] = chart.data.datasets;
      minimum!.data = view.series.minimum as never;
      maximum!.data = view.series.maximum as never;
      value!.data = view.series.value as never;
      flagged!.data = view.series.flaggedMs.map((x) => ({ x, y: 0 })) as never;
      Object.assign(chart.options.scales!['x']!, { min: view.fromMs, max: view.toMs });
      Object.assign(chart.options.scales!['y']!, { title: { ...axisStyle(colours, view.yTitle).title } });
      chart.update('none');
    },
    destroy: () => chart.destroy(),
  };
}

function isLonely(data: readonly unknown[], index: number): boolean {
  const at = (i: number) => (data[i] as { y: number | null } | undefined)?.y ?? null;
  return at(index) !== null && at(index - 1) === null && at(index + 1) === null;
}
