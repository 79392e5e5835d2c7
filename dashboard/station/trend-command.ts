import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { Command, Option } from 'commander';
import {
  exchange,
  MACHINE_CLASSES,
  type MachineClass,
  trend,
  zoneLimitsMmPerS,
} from '../../collector/index.ts';
import { StationError } from './errors.ts';
import { positive, wholePositive } from './option-numbers.ts';
import { trendTable } from './trend-table.ts';

interface TrendOptions {
  columns?: string;
  timeColumn?: string;
  conditionColumn?: string;
  rowsPerRun?: string;
  machineClass?: MachineClass;
  limit?: string;
  falseAlarmsPerYear: string;
  until?: string;
  json?: boolean;
}

/** Rows are drawn together to about so many runs: enough to follow a course, and runs are what a trend is made of. */
const USUAL_RUNS = 250;

/** `trend FILE.csv`: levels logged over time, followed by the same code that follows a location. */
export function trendCommand(): Command {
  return new Command('trend')
    .description(
      'follow levels over time from a table: baseline, alerts, slope, forecast, which place stands apart',
    )
    .argument(
      '<file.csv>',
      'a line of headings, then one row an instant: time, and a level in each other column',
    )
    .option('--columns <names>', 'headings of the levels, with commas between (default: all but the time)')
    .option('--time-column <name>', 'heading of the time (default: the first column)')
    .option('--condition-column <name>', 'heading of the condition of a row: only like is compared with like')
    .option(
      '--rows-per-run <n>',
      `rows that make one run (default: as many as give about ${USUAL_RUNS} runs)`,
    )
    .addOption(
      new Option(
        '--machine-class <class>',
        'the levels are velocity RMS in mm/s of a machine at steady speed: watch its zones, and 25 % of B/C',
      ).choices(MACHINE_CLASSES),
    )
    .option('--limit <value>', "level to foresee, in the table's unit (default: twice the baseline)")
    .option(
      '--false-alarms-per-year <n>',
      'that are put up with, for each column, at two runs a day at most',
      '0.1',
    )
    .option('--until <time>', 'look at the rows up to then only (ISO 8601, or as in the table)')
    .option('--json', 'print everything as JSON')
    .action(async (file: string, options: TrendOptions) => {
      const answer = await followed(file, options);
      process.stdout.write(options.json ? `${JSON.stringify(answer, null, 2)}\n` : trendTable(answer));
    });
}

export type TrendAnswer = Awaited<ReturnType<typeof followed>>;

async function followed(file: string, options: TrendOptions) {
  const table = upTo(await read(file, options), options.until);
  const rows = table.timeMs.length;
  const rowsPerRun =
    options.rowsPerRun === undefined
      ? Math.max(1, Math.round(rows / USUAL_RUNS))
      : wholePositive(options.rowsPerRun, '--rows-per-run');
  const [, bc, cd] = options.machineClass === undefined ? [] : zoneLimitsMmPerS(options.machineClass);
  const answer = trend.followTable(table, {
    rowsPerRun,
    criterion: bc === undefined ? { kind: 'own-spread' } : { kind: 'stationary', boundaryBc: bc },
    zoneBoundaries: [
      { name: 'B/C', value: bc },
      { name: 'C/D', value: cd },
    ].flatMap(({ name, value }) => (value === undefined ? [] : [{ name, value }])),
    falseAlarmsPerYear: positive(options.falseAlarmsPerYear, '--false-alarms-per-year'),
    limit: options.limit === undefined ? null : positive(options.limit, '--limit'),
  });
  return {
    file: basename(file),
    rows,
    rowsPerRun,
    fromMs: table.timeMs[0]!,
    toMs: table.timeMs.at(-1)!,
    ...answer,
  };
}

async function read(file: string, options: TrendOptions): Promise<trend.LevelTable> {
  const text = await readFile(file, 'utf8').catch((error: Error) => {
    throw new StationError('BAD_SETTING', error.message, 'Name a CSV file that can be read.');
  });
  try {
    return exchange.parseLevelTable(text, {
      ...(options.timeColumn !== undefined && { time: options.timeColumn }),
      ...(options.conditionColumn !== undefined && { condition: options.conditionColumn }),
      ...(options.columns !== undefined && {
        columns: options.columns.split(',').map((name) => name.trim()),
      }),
    });
  } catch (error) {
    if (!(error instanceof exchange.LevelTableError)) throw error;
    throw new StationError(
      'BAD_SETTING',
      `${file}: ${error.message}`,
      'Correct the table; --help says its form.',
    );
  }
}

function upTo(table: trend.LevelTable, until: string | undefined): trend.LevelTable {
  if (until === undefined) return table;
  const untilMs = exchange.tableTimeMs(until);
  if (!Number.isFinite(untilMs))
    throw new StationError(
      'BAD_SETTING',
      `--until '${until}' is no time`,
      'Write it like 2026-05-01T10:00:00Z.',
    );
  const rows = table.timeMs.filter((timeMs) => timeMs <= untilMs).length;
  if (rows === 0)
    throw new StationError('BAD_SETTING', `--until ${until} is before the first row`, 'Choose a later time.');
  return {
    timeMs: table.timeMs.slice(0, rows),
    columns: table.columns.map(({ name, values }) => ({ name, values: values.slice(0, rows) })),
    bins: table.bins?.slice(0, rows) ?? null,
  };
}
