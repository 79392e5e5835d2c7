import {
  Chart,
  type ChartDataset,
  LinearScale,
  LineController,
  LineElement,
  type Plugin,
  PointElement,
  Tooltip,
} from 'chart.js';
import type { LocationTrend } from '../../contract/weeks.ts';
import { day, significant } from '../format.ts';
import { dayTicks, type SeriesPoint, type Window, weeksSeries } from '../state/weeks-series.ts';
import { axisStyle, type ChartColours, chartColours } from './theme.ts';

Chart.register(LineController, LineElement, PointElement, LinearScale, Tooltip);

export interface WeeksView {
  /** The first one leads: its baseline, limits and slope are drawn. */
  trends: readonly LocationTrend[];
  names: readonly string[];
  window: Window;
  nowMs: number;
  yTitle: string;
  unit: string;
}

/** Shapes and dashes tell series apart, never a hue. */
const SHAPES = ['circle', 'triangle', 'rect', 'rectRot', 'star', 'crossRot', 'cross', 'dash'] as const;
const DASHES = [[], [6, 3], [2, 3], [8, 3, 2, 3], [], [6, 3], [2, 3], [8, 3, 2, 3]];

interface Line {
  at: number;
  name: string;
}

/** Baseline with its scatter as a band, limits as thin named lines, events and new stretches upright. */
function background(colours: ChartColours, view: () => WeeksView | null): Plugin<'line'> {
  return {
    id: 'weeks',
    beforeDatasetsDraw({ ctx, chartArea, scales }) {
      const now = view();
      const lead = now?.trends[0];
      if (now === null || lead === undefined) return;
      const [x, y] = [scales['x']!, scales['y']!];
      ctx.save();
      ctx.font = '12px system-ui, sans-serif';
      ctx.beginPath();
      ctx.rect(chartArea.left, chartArea.top, chartArea.width, chartArea.height);
      ctx.clip();
      if (lead.baseline.known) {
        const { median, spreadDb } = lead.baseline;
        const ratio = 10 ** (spreadDb / 20);
        const [top, bottom] = [y.getPixelForValue(median * ratio), y.getPixelForValue(median / ratio)];
        ctx.fillStyle = colours.fill;
        ctx.fillRect(chartArea.left, top, chartArea.width, bottom - top);
      }
      const named: { at: number; right: number }[] = [];
      const across = (level: number, name: string, dash: number[]) => {
        const at = y.getPixelForValue(level);
        if (at < chartArea.top || at > chartArea.bottom) return;
        ctx.setLineDash(dash);
        ctx.strokeStyle = colours.text;
        ctx.fillStyle = colours.text;
        ctx.beginPath();
        ctx.moveTo(chartArea.left, at);
        ctx.lineTo(chartArea.right, at);
        ctx.stroke();
        // Lines close to each other have their names side by side.
        const beside = named.filter((other) => Math.abs(other.at - at) < 14).map(({ right }) => right);
        const left = Math.max(chartArea.left + 4, ...beside.map((right) => right + 10));
        ctx.textAlign = 'left';
        ctx.fillText(name, left, at - 4);
        named.push({ at, right: left + ctx.measureText(name).width });
      };
      if (lead.baseline.known) across(lead.baseline.median, 'baseline', []);
      for (const { about, raiseAbove } of lead.alerts)
        across(raiseAbove, about === 'change' ? 'alert' : about, about === 'change' ? [8, 4] : [2, 4]);
      uprights(lead).forEach(({ at: atMs, name }, index) => {
        const at = x.getPixelForValue(atMs);
        if (at < chartArea.left || at > chartArea.right) return;
        const isLeft = at < (chartArea.left + chartArea.right) / 2;
        ctx.setLineDash([]);
        ctx.strokeStyle = colours.flag;
        ctx.fillStyle = colours.text;
        ctx.beginPath();
        ctx.moveTo(at, chartArea.top);
        ctx.lineTo(at, chartArea.bottom);
        ctx.stroke();
        ctx.textAlign = isLeft ? 'left' : 'right';
        ctx.fillText(name, at + (isLeft ? 4 : -4), chartArea.top + 12 + 14 * (index % 3));
      });
      ctx.restore();
    },
  };
}

function uprights({ stretches, events }: LocationTrend): Line[] {
  const noted = events.map(({ atMs, kind, note }) => ({ at: atMs, name: note || kind.replace('-', ' ') }));
  const others = stretches
    .filter(({ fromMs }) => !noted.some(({ at }) => at === fromMs))
    .map(({ fromMs, reason }) => ({ at: fromMs, name: reason }));
  return [...noted, ...others].sort((a, b) => a.at - b.at);
}

export function createWeeksChart(canvas: HTMLCanvasElement) {
  const colours = chartColours();
  let view: WeeksView | null = null;
  const chart = new Chart(canvas, {
    type: 'line',
    data: { datasets: [] },
    options: {
      animation: false,
      responsive: true,
      maintainAspectRatio: false,
      interaction: { mode: 'nearest', axis: 'x', intersect: false },
      scales: {
        x: {
          type: 'linear',
          ...axisStyle(colours, 'Day'),
          afterBuildTicks: (axis) => {
            axis.ticks = dayTicks({ fromMs: axis.min, toMs: axis.max }).map((value) => ({ value }));
          },
          ticks: {
            color: colours.text,
            maxRotation: 0,
            autoSkipPadding: 12,
            callback: (value) => day(Number(value), view?.nowMs ?? 0),
          },
        },
        y: { type: 'linear', beginAtZero: true, ...axisStyle(colours, '') },
      },
      plugins: {
        tooltip: {
          displayColors: false,
          filter: ({ dataset }) => dataset.label !== 'slope',
          callbacks: {
            title: (items) => (items[0] ? day(items[0].parsed.x ?? 0, view?.nowMs ?? 0) : ''),
            label: (item) =>
              item.dataset.label === 'left out'
                ? 'left out'
                : `${item.dataset.label}: ${significant(item.parsed.y)} ${view?.unit ?? ''}`.trim(),
          },
        },
      },
    },
    plugins: [background(colours, () => view)],
  });
  return {
    update(next: WeeksView) {
      view = next;
      chart.data.datasets = datasets(next, colours);
      const { fromMs, toMs } = next.window;
      Object.assign(chart.options.scales!['x']!, { min: fromMs, max: toMs });
      Object.assign(chart.options.scales!['y']!, { title: { ...axisStyle(colours, next.yTitle).title } });
      chart.update('none');
    },
    destroy: () => chart.destroy(),
  };
}

function datasets(
  { trends, names }: WeeksView,
  colours: ChartColours,
): ChartDataset<'line', SeriesPoint[]>[] {
  const lead = trends[0];
  const series: ChartDataset<'line', SeriesPoint[]>[] = trends.map((trend, index) => ({
    label: names[index]!,
    data: weeksSeries(trend.points),
    borderColor: index === 0 ? colours.line : colours.text,
    backgroundColor: index === 0 ? colours.line : colours.surface,
    borderWidth: index === 0 ? 1.75 : 1,
    borderDash: DASHES[index]!,
    pointStyle: SHAPES[index]!,
    pointRadius: 3,
    pointHitRadius: 10,
    spanGaps: false,
  }));
  if (lead?.line) {
    const { fromMs, toMs, fromValue, toValue } = lead.line;
    series.push({
      label: 'slope',
      data: [
        { x: fromMs, y: fromValue },
        { x: toMs, y: toValue },
      ],
      borderColor: colours.flag,
      borderWidth: 2,
      borderDash: [10, 4],
      pointRadius: 0,
      pointHitRadius: 0,
    });
  }
  if (lead !== undefined && lead.leftOut.length > 0) {
    series.push({
      label: 'left out',
      data: lead.leftOut.map(({ timeMs }) => ({ x: timeMs, y: 0 })),
      showLine: false,
      pointStyle: 'crossRot',
      pointRadius: 4,
      borderColor: colours.flag,
      clip: false,
    });
  }
  return series;
}
