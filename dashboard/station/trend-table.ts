import type { trend } from '../../collector/index.ts';
import type { TrendAnswer } from './trend-command.ts';

type Column = trend.FollowedColumn;

/** A step that chance gives more often than this is not told. */
const SIGNIFICANT = 0.05;

const CAUTION = [
  'A trend says whether a level changes, not whether a part is safe. A fault suspected in a wheel bearing, brake,',
  'steering or structure is not one to watch: have it inspected by a licensed technician before further use.',
];

/** What a table of levels comes to, as text. */
export function trendTable(answer: TrendAnswer): string {
  const time = timeText(answer.fromMs);
  const lines = [
    `${answer.file}: ${answer.rows} rows, ${answer.rowsPerRun} to a run, ${time(answer.fromMs)} to ${time(answer.toMs)}`,
    '',
    ...answer.columns.flatMap((column) => [...columnLines(column, time), '']),
    ...answer.peers.flatMap((peers) => [...peerLines(peers), '']),
    ...CAUTION,
  ];
  return `${lines.join('\n')}\n`;
}

/** Seconds from a start have no date. */
function timeText(fromMs: number): (timeMs: number) => string {
  const dated = fromMs > 1e9 * 1000;
  return (timeMs) =>
    dated
      ? `${new Date(timeMs).toISOString().slice(0, 16).replace('T', ' ')} UTC`
      : `${number(timeMs / 3.6e6)} h`;
}

const WEEK_MS = 7 * 86_400_000;
const HOURS_A_WEEK = 168;

/** A course of hours is not told by the week. */
function slopeLine({ line, test }: Column): string[] {
  if (line === null || test === null) return [];
  const [share, unit] = line.toMs - line.fromMs < WEEK_MS / 2 ? [1 / HOURS_A_WEEK, 'an hour'] : [1, 'a week'];
  const [at, low, high] = [line.perWeek, line.lowPerWeek, line.highPerWeek].map((rate) =>
    number(rate * share),
  );
  return [`  slope ${at} ${unit} (95 % range ${low} to ${high}), Mann-Kendall p ${number(test.pValue)}`];
}

function columnLines(column: Column, time: (timeMs: number) => string): string[] {
  const { watched, change, forecast } = column;
  const unit = column.basis === 'ratio' ? ' times the own baseline of each condition' : '';
  const base = watched.baseline;
  if (!base.known) {
    const why =
      base.reason === 'bedding-in'
        ? 'the level still falls'
        : `${base.runsMissing} more runs are needed for a baseline`;
    return [`${column.name}: cannot say yet, ${why}.`, ...leftOutLine(column)];
  }
  const rising = base.rising ? '; it rose already meanwhile' : '';
  return [
    `${column.name}: baseline ${number(base.median)}${unit}, from ${base.runs} runs up to ${time(base.toMs)}${rising}`,
    ...watched.alerts.map(({ about, limits }) => {
      const rate =
        limits.falseAlarmsPerYear === null
          ? 'the baseline itself lies above'
          : `${rateText(limits.falseAlarmsPerYear)} false alarms a year expected, at two runs a day at most`;
      return `  alert on ${about === 'change' ? 'a change' : `boundary ${about}`} above ${number(limits.raiseAbove)} (${rate})`;
    }),
    ...watched.events.map(
      ({ timeMs, about, change: what, value }) => `  ${what} ${time(timeMs)}: ${about}, at ${number(value)}`,
    ),
    ...(watched.events.length === 0 ? ['  no alert'] : []),
    ...slopeLine(column),
    ...(change === null || change.pValue > SIGNIFICANT
      ? []
      : [`  steps at ${time(change.timeMs)} (p ${number(change.pValue)})`]),
    ...forecastLine(forecast, column.limit, time),
    ...(watched.notRunning.length === 0
      ? []
      : [`  ${watched.notRunning.length} runs left out: not running as for the baseline`]),
    ...leftOutLine(column),
  ];
}

/** Said without a baseline too: it is often why there is none. */
function leftOutLine({ leftOut }: Column): string[] {
  return leftOut === 0 ? [] : [`  ${leftOut} runs left out: too few values above 0`];
}

function forecastLine(
  forecast: Column['forecast'],
  limit: number | null,
  time: (timeMs: number) => string,
): string[] {
  if (forecast === null || limit === null) return [];
  const about = `  ${number(limit)} is`;
  if (forecast.kind === 'reached') return [`${about} reached since ${time(forecast.sinceMs)}`];
  if (forecast.kind === 'range')
    return [`${about} expected between ${time(forecast.fromMs)} and ${time(forecast.toMs)} (80 %)`];
  return [`  when ${number(limit)} is reached: cannot say yet (${forecast.reason.replaceAll('-', ' ')})`];
}

function peerLines({ ranks, standsApart, value }: TrendAnswer['peers'][number]): string[] {
  return [
    standsApart === null
      ? `Beside each other${value === '' ? '' : ` (${value})`}: none stands apart.`
      : `Beside each other${value === '' ? '' : ` (${value})`}: ${standsApart} has changed more than the others.`,
    ...ranks.map(
      ({ id, changeDb, beyondPeersDb }) =>
        `  ${id}: ${signed(changeDb)} dB since its baseline, ${signed(beyondPeersDb)} dB beyond the others`,
    ),
  ];
}

const rateText = (perYear: number): string => (perYear < 0.001 ? 'under 0.001' : number(perYear));

const signed = (db: number): string => `${db < 0 ? '-' : '+'}${Math.abs(db).toFixed(1)}`;

/** Four figures carry more than any of these values is certain to. */
function number(value: number): string {
  const text = String(Number(value.toPrecision(4)));
  return text === '-0' ? '0' : text;
}
