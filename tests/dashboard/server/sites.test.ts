import { Value } from 'typebox/value';
import { describe, expect, it, onTestFinished } from 'vitest';
import { openFleetReader, zoneOf } from '../../../collector/index.ts';
import { Sites } from '../../../dashboard/contract/sites.ts';
import { siteView } from '../../../dashboard/server/sites/site-view.ts';
import { replayFlux } from '../../collector/store/influx/replayed-flux.ts';
import { expectedSites, NOW_MS } from '../../collector/store/influx/two-sites.ts';
import { testApp } from './support.ts';

/** A station at the site `depot` whose database answers as one did when it was recorded. */
async function station(options: Parameters<typeof replayFlux>[0] = {}) {
  const database = await replayFlux(options);
  onTestFinished(async () => void (await database.close()));
  const app = await testApp({ deps: { fleet: openFleetReader(database.settings, () => NOW_MS) } });
  const { cookie } = await app.as('technician');
  return { ...app, database, sites: () => app.call('GET', '/api/sites', { cookie }) };
}

describe('sites', () => {
  it('are this one first, then the others by name: their assets with level, zone, age and finding', async () => {
    const { sites } = await station();
    const { status, json } = await sites();
    expect(status).toBe(200);
    expect(Value.Check(Sites, json)).toBe(true);
    const [depot, harbour, yard] = (json as Sites).sites;
    expect([depot, harbour, yard].map((one) => [one!.site, one!.own])).toEqual([
      ['depot', true],
      ['harbour', false],
      ['yard', false],
    ]);
    expect(depot!.assets.map(({ name, kind, machineClass }) => [name, kind, machineClass])).toEqual([
      ['Bus 1', 'vehicle', 'II'],
      ['Extraction fan', 'machine', 'I'],
    ]);
    const [hub, gearbox] = depot!.assets[0]!.locations;
    expect(hub).toMatchObject({
      name: 'Left hub',
      component: 'Rear axle',
      // Class II: zone C lies between 2.8 and 7.1 mm/s.
      newest: { flags: [], level: { velocityRmsMmPerS: 4, velocityUncertaintyMmPerS: 0.5, zone: 'C' } },
      finding: { verdict: 'outer', bearing: '6205' },
    });
    // The newest second is spoilt: its flag is told, and the level is that of the second before.
    expect(gearbox!.newest).toMatchObject({ flags: ['clipped'], level: { velocityRmsMmPerS: 1.5 } });
    expect(gearbox!.newest!.level!.atMs).toBe(gearbox!.newest!.heardMs - 2000);
    expect(depot!.assets[1]!.locations).toEqual([]);
    expect(depot!.unplacedSensors).toBe(1);
    expect(depot!.alerts).toMatchObject([
      {
        id: '7',
        title: 'Bus 1, Left hub: velocity RMS has risen',
        value: 1.62,
        isAcknowledged: true,
      },
    ]);
    expect(harbour!.alerts).toMatchObject([{ title: 'Nothing heard of "Rear, left"', value: null }]);

    // The sensor left the first location for the second.
    expect(harbour!.assets).toHaveLength(1);
    expect(harbour!.assets[0]!.locations.map(({ name, newest }) => [name, newest?.level?.zone])).toEqual([
      ['Mount = left\\', undefined],
      ['Hub', 'A'],
    ]);

    // It has never told its names: the numbers stand for them, and there is no zone without a class.
    expect(yard).toMatchObject({
      announcedMs: null,
      assets: [{ id: '4', name: null, machineClass: null, locations: [{ id: '9', name: null }] }],
    });
    expect(yard!.assets[0]!.locations[0]!.newest!.level).toMatchObject({ velocityRmsMmPerS: 3, zone: null });
  });

  it('are asked for once, however many pages look at the same time', async () => {
    const { sites, database, time } = await station();
    await Promise.all([sites(), sites(), sites()]);
    await sites();
    expect(database.asked()).toBe(4);
    time.advance(6000);
    expect((await sites()).status).toBe(200);
    expect(database.asked()).toBe(8);
  });

  it('come back when the database does', async () => {
    let status: number | null = 503;
    const { sites, time, logged } = await station({ fail: () => status });
    expect((await sites()).json).toMatchObject({ code: 'SITES_UNREACHABLE' });
    expect(logged.join()).toContain('the sites cannot be shown');
    status = null;
    time.advance(6000);
    expect((await sites()).status).toBe(200);
  });
});

describe('the session', () => {
  it('tells people, and nobody else, whether there are sites to look at', async () => {
    const told = async (fleet?: 'write-only' | ReturnType<typeof openFleetReader>) => {
      const app = await testApp(fleet === undefined ? {} : { deps: { fleet } });
      const stranger = (await app.call('GET', '/api/session')).json;
      const person = (await app.call('GET', '/api/session', await app.as('technician'))).json;
      return [stranger.sites, person.sites];
    };
    expect(await told()).toEqual([undefined, undefined]);
    expect(await told('write-only')).toEqual([undefined, 'write-only']);
    const reader = openFleetReader({ url: 'http://127.0.0.1:1', token: 't', org: 'o', bucket: 'b' });
    expect(await told(reader)).toEqual([undefined, 'readable']);
  });
});

describe('the view of a site', () => {
  const [told] = expectedSites({ depot: 'd', harbour: 'h', yard: 'y', nodes: ['1', '2', '3'] });
  const depot = { announcedMs: NOW_MS, ...told! } as Parameters<typeof siteView>[0];

  it('leaves out a location that its station no longer names, and keeps one that it does not name yet', () => {
    const places = depot.places.filter(({ location }) => location?.id !== '2');
    const removed = siteView({ ...depot, places }, 'd', zoneOf);
    expect(removed.assets[0]!.locations.map(({ id }) => id)).toEqual(['1']);
    // Nor an alert about what is gone: nobody clears it any more.
    const left = depot.places.filter(({ location }) => location?.id !== '1');
    expect(siteView({ ...depot, places: left }, 'd', zoneOf).alerts).toEqual([]);
    expect(siteView({ ...depot, places: [], announcedMs: null }, 'd', zoneOf).alerts).toHaveLength(1);
    // Heard after the station last told its places.
    const earlier = siteView({ ...depot, places, announcedMs: NOW_MS - 86_400_000 }, 'd', zoneOf);
    expect(earlier.assets[0]!.locations.map(({ id, name }) => [id, name])).toEqual([
      ['1', 'Left hub'],
      ['2', null],
    ]);
  });

  it('shows of a location whose sensor was exchanged the one heard last', () => {
    const old = { ...depot.levels[0]!, nodeId: 'old', heardMs: 1, velocity: null };
    const view = siteView({ ...depot, levels: [...depot.levels, old] }, 'x', zoneOf);
    expect(view.own).toBe(false);
    expect(view.assets[0]!.locations[0]!.newest).toMatchObject({ level: { velocityRmsMmPerS: 4 } });
  });

  it('shows no zone of a class it does not know', () => {
    const places = depot.places.map((place) => ({ ...place, machineClass: 'V', kind: 'boat' }));
    const [asset] = siteView({ ...depot, places }, 'd', zoneOf).assets;
    expect(asset).toMatchObject({ kind: null, machineClass: null });
    expect(asset!.locations[0]!.newest!.level).toMatchObject({ zone: null });
  });
});
