import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openFleetReader } from '../../../../collector/store/influx/fleet-reader.ts';
import {
  alertsQuery,
  newestLevelsQuery,
  openAlertsQuery,
  placesQuery,
} from '../../../../collector/store/influx/flux-queries.ts';
import { freshSite, influxOfEnvironment, NO_INFLUX } from './influx-server.ts';
import { RECORDED, recordingOf, replayFlux } from './replayed-flux.ts';
import { expectedSites, type Fleet, NOW_MS, openStations } from './two-sites.ts';

const influx = influxOfEnvironment();
const folder = mkdtempSync(join(tmpdir(), 'clampline-sites-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** `RECORD_FLUX=1` beside an empty bucket writes the recorded answers anew. */
const record = process.env['RECORD_FLUX'] === '1';
const RECORDED_FLEET: Fleet = {
  depot: 'depot',
  harbour: 'harbour',
  yard: 'yard',
  nodes: ['00000000000000d1', '00000000000000e1', '00000000000000f1'],
};
const freshNode = () => freshSite().slice(1).padEnd(16, '0');

const name = influx === null ? `${NO_INFLUX}: ` : '';
describe.skipIf(influx === null)(`${name}a fleet of several stations in one InfluxDB`, () => {
  it('is read whole: what each station told of itself, and its newest levels', async () => {
    const prefix = freshSite();
    const fleet: Fleet = record
      ? RECORDED_FLEET
      : {
          depot: `${prefix}a`,
          harbour: `${prefix}b`,
          yard: `${prefix}c`,
          nodes: [freshNode(), freshNode(), freshNode()],
        };
    const stations = await openStations(influx!, fleet, folder);
    for (const station of stations) {
      expect(await station.delivered(60_000), String(station.delivery().problem)).toBe(true);
      await station.close();
    }
    const own = new Set<string>(Object.values(fleet).flat());
    const sites = await openFleetReader(influx!, () => NOW_MS).sites();
    expect(sites.filter(({ site }) => own.has(site))).toMatchObject(expectedSites(fleet));
    if (record) await recordAnswers();
  });
});

async function recordAnswers(): Promise<void> {
  const { url, org, token, bucket } = influx!;
  mkdirSync(RECORDED, { recursive: true });
  const span = { fromMs: NOW_MS - 31 * 86_400_000, toMs: NOW_MS + 86_400_000 };
  const open = [RECORDED_FLEET.harbour, RECORDED_FLEET.depot].map((site) => ({ site, alert: '7' }));
  for (const query of [
    placesQuery(bucket),
    newestLevelsQuery(bucket, span),
    openAlertsQuery(bucket),
    alertsQuery(bucket, open),
  ]) {
    const answer = await fetch(`${url}/api/v2/query?org=${org}`, {
      method: 'POST',
      headers: { authorization: `Token ${token}`, 'content-type': 'application/json' },
      body: JSON.stringify({
        query,
        type: 'flux',
        dialect: { header: true, delimiter: ',', annotations: ['datatype', 'group', 'default'] },
      }),
    });
    expect(answer.status).toBe(200);
    writeFileSync(join(RECORDED, recordingOf(query)), Buffer.from(await answer.arrayBuffer()));
  }
}

describe('a fleet, from answers that a Flux engine gave when they were recorded', () => {
  it('is read whole', async () => {
    const { settings, close } = await replayFlux();
    const sites = await openFleetReader(settings, () => NOW_MS).sites();
    await close();
    expect(sites).toMatchObject(expectedSites(RECORDED_FLEET));
    for (const { announcedMs } of sites.slice(0, 2)) expect(announcedMs).toBeGreaterThan(NOW_MS);
  });

  it('is not taken for whole when the database breaks off with an error under way', async () => {
    // Status 200 and what was found so far, then a table that says why there is no more.
    const cut = [
      '',
      '#datatype,string,string',
      '#group,true,true',
      '#default,,',
      ',error,reference',
      ',out of memory,897',
      '',
    ];
    const { settings, close } = await replayFlux({ behind: cut.join('\r\n') });
    await expect(openFleetReader(settings).sites()).rejects.toMatchObject({
      code: 'INFLUX_REFUSED',
      message: expect.stringContaining('out of memory'),
    });
    await close();
  });

  it('says when the database does not answer', async () => {
    const { settings, close } = await replayFlux({ fail: () => 503 });
    await expect(openFleetReader(settings).sites()).rejects.toMatchObject({ code: 'INFLUX_UNREACHABLE' });
    await close();
  });
});
