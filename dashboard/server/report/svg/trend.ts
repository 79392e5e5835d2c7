import { zoneLimitsMmPerS } from '../../../../collector/index.ts';
import type { MachineClass } from '../../../contract/model.ts';
import type { LocationTrend } from '../../../contract/weeks.ts';
import { level } from '../../weeks/words.ts';
import { html, type Markup } from '../html.ts';
import { at, type Box, picture, shapeOf, upright } from './frame.ts';

const WIDTH = 760;
const BOX: Box = { left: 84, top: 30, width: 576, height: 270 };
const DAY_MS = 86_400_000;
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

export interface TrendPicture {
  trend: LocationTrend;
  /** Given where zones apply: the boundaries are drawn with their letters. */
  zonesOf: MachineClass | null;
  /** The run of the report, drawn as a diamond. */
  runId: number | null;
}

/** Runs over weeks with baseline, alert limit, zone letters, slope, and what happened meanwhile. */
export function trendPicture({ trend, zonesOf, runId }: TrendPicture): Markup {
  const { points, baseline, alerts, line, stretches, unit, basis } = trend;
  const [firstMs, lastMs] = [points[0]!.timeMs, points.at(-1)!.timeMs];
  const pad = Math.max(DAY_MS, 0.03 * (lastMs - firstMs));
  const [fromMs, toMs] = [firstMs - pad, lastMs + pad];
  const x = (ms: number) => BOX.left + (BOX.width * (ms - fromMs)) / (toMs - fromMs);
  const highest = Math.max(...points.map(({ value, high }) => high ?? value));
  const limits = alerts.map(({ raiseAbove }) => raiseAbove).filter((value) => value < 2 * highest);
  const zones = zonesOf === null || basis === 'ratio' ? [] : [...zoneLimitsMmPerS(zonesOf)];
  const shownZones = zones.filter((value) => value < 1.6 * highest);
  const top = 1.12 * Math.max(highest, ...limits, ...shownZones);
  const label = basis === 'ratio' ? 'times the own baseline' : `level, ${unit}`;
  const axis = upright(BOX, { bottom: 0, top, label });
  const levels: Level[] = [
    ...shownZones.map((value) => ({ value, text: level(value), style: 'limit fine' })),
    ...(baseline.known ? [{ value: baseline.median, text: 'baseline', style: 'base' }] : []),
    ...alerts
      .filter(({ about, raiseAbove }) => about === 'change' && raiseAbove < top)
      .map(({ raiseAbove }) => ({ value: raiseAbove, text: 'alert', style: 'limit' })),
  ];
  const letters = zoneLetters([0, ...shownZones, top], axis.y, zones.length > 0);
  const band = baseline.known ? spreadBand(baseline, axis.y) : null;
  const bottom = BOX.top + BOX.height;
  return picture(
    WIDTH,
    bottom + 46,
    `${points.length} runs of ${trend.component}, ${trend.location}: ${trend.sentences[0] ?? ''}`,
    html`${axis.markup}${band}${letters}
${acrossLines(levels, axis.y)}
${stretches
  .filter((stretch) => stretch.fromMs > fromMs && stretch.fromMs < toMs)
  .map(
    (stretch, k) =>
      html`<line class="event" x1="${at(x(stretch.fromMs))}" x2="${at(x(stretch.fromMs))}" y1="${BOX.top}" y2="${bottom}"/><text x="${at(x(stretch.fromMs) + 4)}" y="${BOX.top + 12 + 14 * (k % 3)}">${stretch.reason}</text>`,
  )}
${line === null ? null : html`<line class="slope" x1="${at(x(line.fromMs))}" y1="${at(axis.y(line.fromValue))}" x2="${at(x(line.toMs))}" y2="${at(axis.y(line.toValue))}"/>`}
${points.map(
  (point) =>
    html`${point.low === null || point.high === null ? null : html`<line class="whisker" x1="${at(x(point.timeMs))}" x2="${at(x(point.timeMs))}" y1="${at(axis.y(point.low))}" y2="${at(axis.y(point.high))}"/>`}${shapeOf(runId !== null && point.runId === runId ? 3 : 0)(x(point.timeMs), axis.y(point.value))}`,
)}
${dayTicks(fromMs, toMs).map((ms) => html`<text x="${at(x(ms))}" y="${bottom + 18}" text-anchor="middle">${dayText(ms)}</text>`)}
<text x="${BOX.left + BOX.width}" y="${bottom + 38}" text-anchor="end">day</text>`,
  );
}

interface Level {
  value: number;
  text: string;
  style: string;
}

const LABEL_HEIGHT = 15;

/** Lines across, named beside the box; names of lines close together stand one above the other. */
function acrossLines(levels: readonly Level[], y: (value: number) => number): Markup {
  let lowest = Number.POSITIVE_INFINITY;
  return html`${levels
    .toSorted((a, b) => a.value - b.value)
    .map(({ value, text, style }) => {
      lowest = Math.min(y(value) + 4, lowest - LABEL_HEIGHT);
      return html`<line class="${style}" x1="${BOX.left}" x2="${BOX.left + BOX.width}" y1="${at(y(value))}" y2="${at(y(value))}"/>
<text x="${BOX.left + BOX.width + 6}" y="${at(lowest)}">${text}</text>`;
    })}`;
}

function zoneLetters(edges: readonly number[], y: (value: number) => number, apply: boolean): Markup | null {
  if (!apply) return null;
  return html`${edges
    .slice(1)
    .map((high, k) => [edges[k]!, high] as const)
    .map(
      ([low, high], k) =>
        html`<text class="zone" x="${WIDTH - 14}" y="${at(y((low + high) / 2) + 5)}">${'ABCD'[k]!}</text>`,
    )}`;
}

function spreadBand(
  { median, spreadDb }: { median: number; spreadDb: number },
  y: (value: number) => number,
) {
  const ratio = 10 ** (spreadDb / 20);
  const top = y(median * ratio);
  return html`<rect class="spread" x="${BOX.left}" width="${BOX.width}" y="${at(top)}" height="${at(y(median / ratio) - top)}"/>`;
}

/** At most six whole days, evenly apart. */
function dayTicks(fromMs: number, toMs: number): number[] {
  const days = Math.floor((toMs - fromMs) / DAY_MS);
  const step = [1, 2, 7, 14, 28, 56, 91, 182, 365].find((each) => days / each <= 6) ?? Math.ceil(days / 6);
  const first = Math.ceil(fromMs / DAY_MS);
  return Array.from({ length: Math.floor(days / step) + 1 }, (_, k) => (first + k * step) * DAY_MS).filter(
    (ms) => ms <= toMs,
  );
}

const dayText = (ms: number) => `${new Date(ms).getDate()} ${MONTHS[new Date(ms).getMonth()]}`;
