import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  type AlertPoint,
  alertLine,
  alertPointWriter,
} from '../../../../collector/store/influx/alert-points.ts';
import { isInstalled, runVictoriaMetrics, type ServerProcess } from './server-process.ts';

const point: AlertPoint = {
  atMs: 1_700_000_000_900,
  alertId: 7,
  isOpen: true,
  isAcknowledged: false,
  sinceMs: 1_699_000_000_000,
  about: 'change',
  assetId: 2,
  locationId: 5,
  title: 'Bus 2, "Output", bearing:\nvelocity RMS has risen',
  value: 1.6,
  limit: 1.26,
  unit: 'ratio',
  falseAlarmsPerYear: null,
};

describe('an alert as a point', () => {
  it('is one line: tags in order, text quoted, no field for what is not known', () => {
    // Line protocol as InfluxData documents it: quotes and backslashes of a text escaped, whole numbers with i.
    expect(alertLine('depot', point)).toBe(
      'alert,alert=7,about=change,asset=2,location=5,site=depot open=1i,acknowledged=0i,since_s=1699000000i,' +
        'title="Bus 2, \\"Output\\", bearing: velocity RMS has risen",unit="ratio",value=1.6,limit=1.26 1700000000',
    );
    const quiet = {
      ...point,
      about: 'node-quiet',
      assetId: null,
      locationId: null,
      value: null,
      limit: null,
    };
    expect(alertLine('depot', { ...quiet, isOpen: false })).toMatch(
      /^alert,alert=7,about=node-quiet,site=depot open=0i,acknowledged=0i,since_s=1699000000i,title="[^\n]*",unit="ratio" 1700000000$/,
    );
  });
});

const installed = isInstalled('victoria-metrics');

describe.skipIf(!installed)(
  `${installed ? '' : 'skipped: victoria-metrics not installed: '}writing alerts to VictoriaMetrics`,
  () => {
    let server: ServerProcess;
    beforeAll(async () => {
      server = await runVictoriaMetrics();
    });
    afterAll(() => server.close());

    it('is taken, and taken again without another point', async () => {
      const settings = { url: server.url, token: 'unused', org: '-', bucket: 'clampline', writeOnly: true };
      const write = alertPointWriter(settings, 'depot');
      // That server keeps a month.
      const atMs = Math.floor(Date.now() / 1000) * 1000 - 3_600_000;
      const raised = { ...point, atMs };
      await write([raised]);
      await write([raised, { ...raised, atMs: atMs + 60_000, isOpen: false }]);
      await fetch(`${server.url}/internal/force_flush`);
      const match = encodeURIComponent('alert_open{site="depot",alert="7"}');
      const text = await (
        await fetch(`${server.url}/api/v1/export?match[]=${match}&reduce_mem_usage=1`)
      ).text();
      const rows = text
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line) as { values: number[]; timestamps: number[] });
      const seen = new Map(
        rows.flatMap(({ timestamps, values }) => timestamps.map((ms, i) => [ms, values[i]])),
      );
      expect([...seen]).toEqual([
        [atMs, 1],
        [atMs + 60_000, 0],
      ]);
    });
  },
);
