import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { openJournalPins } from '../../../broker/journal/index.ts';
import { Run, SuspectReview } from '../../../dashboard/contract/runs.ts';
import { NODE_A, NOON_MS, testApp } from './support.ts';
import { tempDir } from './temp-dir.ts';

async function shop(options: Parameters<typeof testApp>[0] = {}) {
  const test = await testApp(options);
  const { cookie } = await test.as('shop');
  const bus = test.store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  const hub = test.store.assets.addLocation(bus.id, { name: 'Hub', component: 'Rear axle' });
  test.store.assets.addLocation(bus.id, { name: 'Nose', component: 'Gearbox' });
  test.store.nodes.add(NODE_A, 'axle board');
  test.store.mounts.put(hub.id, { nodeId: NODE_A, sensor: 0 });
  const send = (method: Parameters<typeof test.call>[0], url: string, body?: unknown) =>
    test.call(method, url, { cookie, body });
  const start = async (kind = 'road') =>
    (await send('POST', '/api/runs', { assetId: bus.id, kind })).json as Run;
  return { ...test, send, start, bus, hub, cookie };
}

describe('runs', () => {
  it('begins, is marked, and ends; every answer is the whole run', async () => {
    const { send, start, time, hub, bus } = await shop();
    const run = await start();
    expect(Value.Check(Run, run)).toBe(true);
    expect(run).toMatchObject({ assetId: bus.id, kind: 'road', startMs: NOON_MS, endMs: null, kept: true });
    expect(run.operator).toBe('shop person');
    expect(run.locations).toEqual([{ id: hub.id, name: 'Hub', component: 'Rear axle' }]);

    time.advance(10_000);
    const marked = (await send('POST', `/api/runs/${run.id}/marks`, { source: 'button' })).json as Run;
    expect(marked.marks).toMatchObject([
      { atMs: NOON_MS + 10_000, endMs: null, source: 'button', by: 'shop person' },
    ]);
    const held = { endMs: NOON_MS + 12_000 };
    const mark = marked.marks[0]!.id;
    expect((await send('PATCH', `/api/runs/${run.id}/marks/${mark}`, held)).json.marks[0]).toMatchObject(
      held,
    );
    await send('POST', `/api/runs/${run.id}/marks`, {
      source: 'key',
      atMs: NOON_MS + 4_000,
      note: 'over the bridge',
    });
    time.advance(10_000);
    const ended = (await send('POST', `/api/runs/${run.id}/end`)).json as Run;
    expect(ended.endMs).toBe(NOON_MS + 20_000);
    expect(ended.marks.map(({ atMs }) => atMs - NOON_MS)).toEqual([4_000, 10_000]);
    expect((await send('DELETE', `/api/runs/${run.id}/marks/${mark}`)).json.marks).toHaveLength(1);
    expect((await send('GET', '/api/runs')).json).toMatchObject([{ id: run.id, markCount: 1 }]);
    expect((await send('GET', `/api/runs?assetId=${bus.id + 1}`)).json).toEqual([]);
  });

  it('keeps what people tell of it, field by field', async () => {
    const { send, start } = await shop();
    const { id } = await start('lift');
    await send('PATCH', `/api/runs/${id}`, {
      complaint: { when: 'pulling uphill', gear: '4th' },
      odometerKm: 183_402,
    });
    await send('PATCH', `/api/runs/${id}`, {
      complaint: { gear: '3rd and 4th' },
      outcome: 'could-not-reproduce',
    });
    await send('PATCH', `/api/runs/${id}`, { checks: [{ id: 'fluid', state: 'in-order', note: '' }] });
    await send('PATCH', `/api/runs/${id}`, {
      checks: [{ id: 'mounts', state: 'fault-found', note: 'rear torn' }],
    });
    expect((await send('GET', `/api/runs/${id}`)).json).toMatchObject({
      kind: 'lift',
      odometerKm: 183_402,
      outcome: 'could-not-reproduce',
      complaint: { when: 'pulling uphill', gear: '3rd and 4th', recentWork: '' },
      checks: [
        { id: 'fluid', state: 'in-order' },
        { id: 'mounts', state: 'fault-found', note: 'rear torn' },
      ],
    });
  });

  it('one of an asset at a time; another may begin after it', async () => {
    const { send, start, bus } = await shop();
    const first = await start();
    const refused = await send('POST', '/api/runs', { assetId: bus.id, kind: 'road' });
    expect([refused.status, refused.json.code]).toEqual([409, 'RUN_UNDER_WAY']);
    await send('POST', `/api/runs/${first.id}/end`);
    expect((await start()).id).toBe(first.id + 1);
  });

  it('refuses marks outside the run', async () => {
    const { send, start } = await shop();
    const { id } = await start();
    for (const atMs of [NOON_MS - 60_000, NOON_MS + 60_000]) {
      expect((await send('POST', `/api/runs/${id}/marks`, { source: 'key', atMs })).json.code).toBe(
        'SPAN_INVALID',
      );
    }
  });

  it('guides through manoeuvres, and says what they leave as suspects', async () => {
    const { send, start, time } = await shop();
    const guides = (await send('GET', '/api/manoeuvres')).json;
    expect(guides).toHaveLength(6);
    const { id } = await start();
    await send('POST', `/api/runs/${id}/manoeuvres`, { manoeuvre: 'steady-cruise' });
    time.advance(30_000);
    const next = (await send('POST', `/api/runs/${id}/manoeuvres`, { manoeuvre: 'coast-in-neutral' }))
      .json as Run;
    expect(
      next.manoeuvres.map(({ startMs, endMs }) => [startMs - NOON_MS, endMs && endMs - NOON_MS]),
    ).toEqual([
      [0, 30_000],
      [30_000, null],
    ]);
    time.advance(15_000);
    const [cruise, coast] = next.manoeuvres;
    await send('PATCH', `/api/runs/${id}/manoeuvres/${cruise!.id}`, { noise: 'present' });
    await send('PATCH', `/api/runs/${id}/manoeuvres/${coast!.id}`, { noise: 'present', ended: true });
    const review = (await send('GET', `/api/runs/${id}/suspects`)).json as SuspectReview;
    expect(Value.Check(SuspectReview, review)).toBe(true);
    const standing = new Map(review.suspects.map((suspect) => [suspect.id, suspect.standing]));
    // Rolling in neutral the noise stays: not the engine.
    expect(standing.get('road-speed')).toBe('stays');
    expect(standing.get('engine-speed')).toBe('weakened');
    const ended = (await send('POST', `/api/runs/${id}/end`)).json as Run;
    expect(ended.manoeuvres[1]!.endMs).toBe(NOON_MS + 45_000);
  });

  it('goes with its asset, and alone only by the role shop', async () => {
    const { send, start, bus, call, as, store } = await shop();
    const { id } = await start();
    expect((await call('DELETE', `/api/runs/${id}`, await as('technician'))).status).toBe(403);
    await send('POST', `/api/runs/${id}/marks`, { source: 'button' });
    expect((await send('DELETE', `/api/assets/${bus.id}`)).status).toBe(200);
    expect((await send('GET', `/api/runs/${id}`)).json.code).toBe('RUN_NOT_FOUND');
    expect(store.runEvents.marks(id)).toEqual([]);
  });
});

describe('vehicle data of a run', () => {
  it('takes values over REST, decodes answers of the connector, and gives them back as series', async () => {
    const { send, start, time, bus } = await shop();
    const before = await send('POST', `/api/assets/${bus.id}/vehicle`, { samples: [{ roadSpeedKmH: 50 }] });
    expect(before.json).toEqual({ taken: 0 });
    const { id } = await start();
    await send('POST', `/api/assets/${bus.id}/vehicle`, { samples: [{ roadSpeedKmH: 50, gear: 4 }] });
    time.advance(1000);
    // SAE J1979: 0x1AF8 / 4 = 1726 rpm, 0x32 = 50 km/h (worked by hand).
    const answer = '41 0C 1A F8 0D 32';
    expect((await send('POST', `/api/assets/${bus.id}/vehicle`, { samples: [{ answer }] })).json).toEqual({
      taken: 2,
    });
    await send('POST', `/api/runs/${id}/vehicle`, { samples: [{ atMs: NOON_MS + 500, roadSpeedKmH: 51 }] });
    expect((await send('GET', `/api/runs/${id}/vehicle`)).json).toEqual([
      { quantity: 'engineSpeedRpm', atMs: [NOON_MS + 1000], value: [1726] },
      { quantity: 'gear', atMs: [NOON_MS], value: [4] },
      { quantity: 'roadSpeedKmH', atMs: [NOON_MS, NOON_MS + 500, NOON_MS + 1000], value: [50, 51, 50] },
    ]);
    expect((await send('GET', `/api/runs/${id}`)).json.vehicle).toContainEqual({
      quantity: 'roadSpeedKmH',
      count: 3,
      newest: 50,
      newestMs: NOON_MS + 1000,
    });
  });

  it('reads recorded files, and says which line is wrong', async () => {
    const { call, start, cookie } = await shop();
    const { id } = await start();
    const csv = { 'content-type': 'text/csv' };
    const url = `/api/runs/${id}/vehicle-file`;
    const body = 'time [s], engine speed [rpm], road speed [km/h]\n0, 1500, 40\n0.5, 1510,\n';
    expect((await call('POST', url, { cookie, headers: csv, body })).json).toEqual({ taken: 3 });
    const wrong = await call('POST', url, {
      cookie,
      headers: csv,
      body: 'time [s], road speed [km/h]\n0, fast\n',
    });
    expect([wrong.status, wrong.json.code]).toEqual([400, 'VEHICLE_DATA_REFUSED']);
    expect(wrong.json.message).toMatch(/line 2.*fast/);
  });

  it('refuses what is no vehicle data', async () => {
    const { send, start } = await shop();
    const { id } = await start();
    const url = `/api/runs/${id}/vehicle`;
    for (const sample of [{}, { roadSpeedKmH: -4 }, { speed: 3 }, { answer: '7F 01 12' }]) {
      expect((await send('POST', url, { samples: [sample] })).status).toBe(400);
    }
  });
});

describe('raw samples of runs', () => {
  const MIN = 60_000;
  async function pinned() {
    const journalDir = join(tempDir(), 'journal');
    mkdirSync(journalDir);
    const test = await shop({ journalDir });
    const pins = openJournalPins(journalDir);
    /** Pins are written after the answer: they are there once a later change has been settled too. */
    const settled = async (count: number) => {
      for (;;) {
        const found = await pins.list();
        if (found.length === count) return found;
        await new Promise((resolve) => setTimeout(resolve, 5));
      }
    };
    return { ...test, pins, settled };
  }

  it('are pinned from before its start on, until after its end, and let go on request', async () => {
    const { start, send, settled, pins, time } = await pinned();
    const { id } = await start();
    const [open] = await settled(1);
    expect(open).toMatchObject({ name: `run-${id}`, toMs: null });
    expect(open!.fromMs).toBeLessThanOrEqual(NOON_MS - 2 * MIN);
    time.advance(5 * MIN);
    await send('POST', `/api/runs/${id}/end`);
    let closed = (await pins.list())[0]!;
    while (closed.toMs === null) closed = (await pins.list())[0]!;
    expect(closed.toMs).toBeGreaterThanOrEqual(NOON_MS + 6 * MIN);
    await send('PATCH', `/api/runs/${id}`, { kept: false });
    await settled(0);
    await send('PATCH', `/api/runs/${id}`, { kept: true });
    await settled(1);
    await send('DELETE', `/api/runs/${id}`);
    await settled(0);
  });

  it('are pinned after a restart that came between the record and its pin', async () => {
    const { store, bus, pins } = await pinned();
    const { id } = store.runs.start({ assetId: bus.id, kind: 'bench' }, 'Kim');
    while ((await pins.list()).length === 0) await new Promise((resolve) => setTimeout(resolve, 5));
    await pins.remove(`run-${id}`);
    await pins.put({ name: 'run-99', fromMs: 0, toMs: null });
    const journalDir = join(tempDir(), 'other');
    mkdirSync(journalDir);
    await openJournalPins(journalDir).put({ name: 'run-99', fromMs: 0, toMs: null });
    await openJournalPins(journalDir).put({ name: 'by-hand', fromMs: 0, toMs: 1 });
    await testApp({ deps: { records: store }, journalDir });
    for (;;) {
      const names = (await openJournalPins(journalDir).list()).map(({ name }) => name);
      if (names.join() === `by-hand,run-${id}`) break;
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
  });

  it('a run left open ends by itself after four hours', async () => {
    const { start, time, store, send } = await pinned();
    const { id } = await start();
    time.advance(5 * 60 * MIN);
    // Any change makes the keeper look; by itself it looks every minute.
    store.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
    for (;;) {
      const run = (await send('GET', `/api/runs/${id}`)).json as Run;
      if (run.endMs === NOON_MS + 4 * 60 * MIN) break;
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
  });
});
