/** What leaves a station for a database: points a second over the wire, and what spooling them on disk costs. */
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Reading } from '../../collector/model.ts';
import { influxHistory } from '../../collector/store/influx/history.ts';
import { openInfluxReader } from '../../collector/store/influx/influx-reader.ts';
import { openInfluxStore } from '../../collector/store/influx/influx-store.ts';
import { rowOf } from '../../collector/store/reading-row.ts';
import { rollUpMinutes, rollUpReadings } from '../../collector/store/rollup-row.ts';
import { openSqliteStore } from '../../collector/store/sqlite-store.ts';
import { freshSite, influxOfEnvironment, NO_INFLUX } from '../collector/store/influx/influx-server.ts';
import { isInstalled, runVictoriaMetrics } from '../collector/store/influx/server-process.ts';
import type { Figure } from './run.ts';

const SENSORS = 100;
const SECONDS = 200;
const YEAR_MINUTES = 365 * 24 * 60;
/** Three axes and the highest of them. */
const POINTS_A_READING = 4;

export async function bench(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'clampline-bench-influx-'));
  try {
    return [...(await spooling(folder)), ...(await delivering(folder)), ...(await askingForAYear())];
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** One second of all sensors, as a collector commits it. */
function second(at: number): Reading[] {
  return Array.from({ length: SENSORS }, (_, sensor) => ({
    nodeId: (0xb000 + (sensor >> 4)).toString(16).padStart(16, '0'),
    sensor: sensor & 15,
    startMs: (1_760_000_400 + at) * 1000,
    durationS: 1,
    sampleRateHz: 3187.65,
    bandHz: [10, 1000],
    axes: (['x', 'y', 'z'] as const).map((axis, index) => ({
      axis,
      velocityRmsMmPerS: 1 + ((at * 7 + sensor * 3 + index) % 101) / 17,
      accelerationRmsMPerS2: 2 + ((at * 5 + sensor) % 97) / 13,
      accelerationPeakMPerS2: 7 + ((at + sensor * 11) % 89) / 11,
      crestFactor: 3 + ((at * 3 + index) % 83) / 71,
      kurtosis: 2.9 + ((at + sensor) % 31) / 67,
      meanMPerS2: 9.8 - ((at + index * 3) % 103) / 53,
      velocityUncertaintyMmPerS: 0.1 + ((at * 3 + sensor) % 29) / 83,
    })),
    flags: [],
    timeUncertaintyMs: 2,
  }));
}

const batches = Array.from({ length: SECONDS }, (_, at) => second(at));
const READINGS = SENSORS * SECONDS;

/** The same commits with and without the spool, so that its cost shows; the database is away. */
async function spooling(folder: string): Promise<Figure[]> {
  const rates = { alone: 0, spooled: 0 };
  let bytes = 0;
  for (let round = 0; round < 2; round++) {
    const alone = await openSqliteStore(join(folder, `alone-${round}.sqlite`));
    rates.alone = Math.max(rates.alone, await rate(alone));
    await alone.close();
    const file = join(folder, `spool-${round}.sqlite`);
    const away = { url: 'http://127.0.0.1:1', token: 't', org: 'o', bucket: 'b' };
    const spooled = await openInfluxStore(file, away, { site: 'bench' });
    rates.spooled = Math.max(rates.spooled, await rate(spooled));
    await spooled.close();
    bytes = statSync(file).size / READINGS;
  }
  const what = `${SENSORS} sensors a commit`;
  return [
    { name: `store: readings committed to SQLite, ${what}`, value: rates.alone, unit: 'readings/s' },
    {
      name: `store: the same with the spool for InfluxDB, database away`,
      value: rates.spooled,
      unit: 'readings/s',
    },
    {
      name: 'store: disk for one undelivered reading of three axes, with its part of the minute',
      value: bytes,
      unit: 'bytes',
    },
  ];
}

async function rate(store: {
  commit(readings: Reading[], position: number): Promise<void>;
}): Promise<number> {
  const started = performance.now();
  for (const [position, readings] of batches.entries()) await store.commit(readings, position);
  return READINGS / ((performance.now() - started) / 1000);
}

/** From the spool to VictoriaMetrics, until it has acknowledged the last point. */
async function delivering(folder: string): Promise<Figure[]> {
  if (!isInstalled('victoria-metrics')) {
    console.log('skipped: victoria-metrics not installed');
    return [];
  }
  const server = await runVictoriaMetrics();
  try {
    let best = 0;
    for (let round = 0; round < 3; round++) {
      const settings = { url: server.url, token: 't', org: 'o', bucket: 'b' };
      const store = await openInfluxStore(join(folder, `deliver-${round}.sqlite`), settings, {
        site: `bench${round}`,
      });
      for (const [position, readings] of batches.entries()) await store.commit(readings, position);
      const before = store.delivery().waiting;
      const started = performance.now();
      if (!(await store.delivered(120_000))) throw new Error('not delivered within two minutes');
      best = Math.max(best, (before * POINTS_A_READING) / ((performance.now() - started) / 1000));
      await store.close();
    }
    return [
      {
        name: 'store: points from the spool into VictoriaMetrics, acknowledged',
        value: best,
        unit: 'points/s',
      },
    ];
  } finally {
    await server.close();
  }
}

/** One location's year of minutes as 500 points, from the InfluxDB of the environment. */
async function askingForAYear(): Promise<Figure[]> {
  const influx = influxOfEnvironment();
  if (influx === null) {
    console.log(NO_INFLUX);
    return [];
  }
  const site = freshSite();
  const history = influxHistory(influx, site);
  const sensor = { nodeId: site.slice(1).padEnd(16, '0'), sensor: 0 };
  const firstMinute = Math.floor(1_700_006_400 / 3600) * 60;
  const minutes = Array.from({ length: YEAR_MINUTES }, (_, k) => {
    const [reading] = second(k);
    return rollUpReadings(firstMinute + k, [rowOf({ ...reading!, axes: reading!.axes.slice(0, 1) })]);
  });
  const hours = Array.from({ length: YEAR_MINUTES / 60 }, (_, h) =>
    rollUpMinutes(firstMinute / 60 + h, minutes.slice(h * 60, h * 60 + 60)),
  );
  for (let at = 0; at < minutes.length; at += 2500) {
    await history.put(sensor, { level: 'minute', rows: minutes.slice(at, at + 2500) });
  }
  await history.put(sensor, { level: 'hour', rows: hours });
  const reader = openInfluxReader(influx, site);
  const fromMs = firstMinute * 60_000;
  const query = {
    sensor,
    axis: 'highest',
    fromMs,
    toMs: fromMs + YEAR_MINUTES * 60_000,
    maxPoints: 500,
  } as const;
  const figures: Figure[] = [];
  for (const value of ['velocityRmsMmPerS', 'kurtosis'] as const) {
    let best = Number.POSITIVE_INFINITY;
    for (let round = 0; round < 5; round++) {
      const started = performance.now();
      const { count } = await reader.series({ ...query, value });
      best = Math.min(best, performance.now() - started);
      if (count.reduce((a, b) => a + b) !== YEAR_MINUTES) throw new Error('minutes are missing');
    }
    figures.push({
      name: `store: a year of minutes to 500 points in InfluxDB, ${value}`,
      value: best,
      unit: 'ms',
    });
  }
  return figures;
}
