import { afterEach, describe, expect, it, vi } from 'vitest';
import type { CollectorError } from '../../../../collector/errors.ts';
import { startAnnouncer } from '../../../../collector/store/influx/announcer.ts';
import { createInfluxClient } from '../../../../collector/store/influx/client.ts';
import type { Place } from '../../../../collector/store/influx/place-points.ts';
import { checkInflux } from '../../../../collector/store/influx/settings.ts';
import { door } from './door.ts';
import { PLACES } from './two-sites.ts';

const closers: (() => unknown)[] = [];
afterEach(async () => {
  for (const close of closers.splice(0).reverse()) await close();
});

/** However busy the machine is. */
const WAIT = { timeout: 60_000, interval: 10 };

async function announcing(places: () => Place[], status: () => number = () => 204) {
  const database = await door(() => ({ status: status() }));
  closers.push(database.close);
  const problems: CollectorError[] = [];
  const settings = checkInflux({ url: database.url, token: 't', org: 'o', bucket: 'b', hourBucket: 'long' });
  const announcer = startAnnouncer({
    client: createInfluxClient(settings),
    site: 'depot',
    places,
    failed: (error) => problems.push(error),
    lookMs: 5,
  });
  closers.push(announcer.close);
  return { ...database, problems, announcer };
}

const secondOf = (line: string) => Number(line.split(' ').at(-1));

describe('announcing assets and locations', () => {
  it('tells all of them under one time, in the bucket that keeps longest, and again only after a change', async () => {
    let places = PLACES.depot;
    let looks = 0;
    const { taken, requests } = await announcing(() => {
      looks++;
      return places;
    });
    await vi.waitFor(() => expect(looks).toBeGreaterThan(20), WAIT);
    expect(requests).toHaveLength(1);
    expect(requests[0]!.url).toContain('bucket=long');
    expect(taken).toHaveLength(1 + PLACES.depot.length);
    expect(taken[0]).toMatch(/^place,site=depot places=3i \d+$/);
    expect(taken[1]).toMatch(
      /^place,asset=1,location=1,site=depot asset_name="Bus 1",kind="vehicle",class="II",location_name="Left hub",component="Rear axle",finding="outer",finding_bearing="6205",finding_since_s=1760000000i \d+$/,
    );
    expect(new Set(taken.map(secondOf)).size).toBe(1);

    places = PLACES.depot.slice(0, 1);
    await vi.waitFor(() => expect(requests).toHaveLength(2), WAIT);
    const again = taken.slice(1 + PLACES.depot.length);
    expect(again).toHaveLength(2);
    // Even within one second a later announcement has a later time.
    expect(secondOf(again[0]!)).toBeGreaterThan(secondOf(taken[0]!));
  });

  it('tells a station without assets as one', async () => {
    const { taken } = await announcing(() => []);
    await vi.waitFor(() => expect(taken).toHaveLength(1), WAIT);
    expect(taken[0]).toMatch(/^place,site=depot places=0i \d+$/);
  });

  it('tries again what the database did not take, with what is true then', async () => {
    let status = 503;
    let name = 'Bus 1';
    const { taken, requests, problems } = await announcing(
      () => [{ ...PLACES.depot[2]!, assetName: name }],
      () => status,
    );
    await vi.waitFor(() => expect(requests.length).toBeGreaterThan(2), WAIT);
    // That the database is away is said by who delivers readings.
    expect(problems).toEqual([]);
    status = 401;
    await vi.waitFor(() => expect(problems).toHaveLength(1), WAIT);
    const before = requests.length;
    await vi.waitFor(() => expect(requests.length).toBeGreaterThan(before + 2), WAIT);
    expect(problems.map(({ code }) => code)).toEqual(['INFLUX_DENIED']);
    name = 'Bus\n"2"';
    status = 204;
    // What was on its way when the name was changed may have been taken as well.
    await vi.waitFor(() => expect(taken.join('\n')).toContain('asset_name="Bus \\"2\\""'), WAIT);
  });

  it('survives records that cannot be read for a while', async () => {
    let reads = 0;
    const { taken, problems } = await announcing(() => {
      if (reads++ < 3) throw new Error('database is locked');
      return [];
    });
    await vi.waitFor(() => expect(taken).toHaveLength(1), WAIT);
    expect(problems).toHaveLength(1);
    expect(problems[0]!.message).toContain('database is locked');
  });
});
