import { Value } from 'typebox/value';
import { describe, expect, it, onTestFinished } from 'vitest';
import { FollowResult } from '../../../dashboard/contract/inquiries.ts';
import { journalOf } from '../../collector/capture/journal-of.ts';
import { DRIVE_SECONDS, toldByVehicle, VARYING_TRAIN, varyingDrive } from '../../support/varying-drive.ts';
import { NODE_A, NOON_MS, testApp } from './support.ts';

/** A run of a minute on a bus whose engine and road speed vary each in its own way, raw samples in a real journal. */
async function recordedDrive(humMPerS2?: (t: number) => number) {
  const startS = NOON_MS / 1000;
  const journal = await journalOf(varyingDrive(NODE_A, startS, humMPerS2));
  onTestFinished(journal.remove);
  const test = await testApp({ journalDir: journal.dir });
  const { cookie } = await test.as('technician');
  const { store, time } = test;
  const bus = store.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
  const axle = store.assets.addLocation(bus.id, { name: 'Pinion bearing', component: 'Rear axle' }).id;
  store.nodes.add(NODE_A, 'axle');
  store.mounts.put(axle, { nodeId: NODE_A, sensor: 0 });
  const run = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
  time.advance(1000 * DRIVE_SECONDS);
  store.runs.end(run.id);
  const ask = (body: object = {}) =>
    test.call('POST', `/api/runs/${run.id}/follow`, { cookie, body: { locationId: axle, ...body } });
  return { store, bus, run, ask, startS };
}

describe('what the tones of a run follow', () => {
  it('cannot be said without a speed, and is named with the drive train once the vehicle has told its speeds', async () => {
    const { store, bus, run, ask, startS } = await recordedDrive();
    const untold = await ask();
    expect(untold.status).toBe(200);
    expect(untold.json).toMatchObject({ used: null, tones: [] });
    expect(untold.json.sentence).toMatch(/^Cannot say: the vehicle told no speed/);

    store.vehicleValues.add(run.id, toldByVehicle(startS));
    const plain = (await ask()).json as FollowResult;
    expect(Value.Check(FollowResult, plain)).toBe(true);
    expect(plain.tones[0]!.sentence).toMatch(/follows road speed \(3\.\d\d times per metre\)/);

    store.driveTrains.put(bus.id, VARYING_TRAIN);
    const found = (await ask()).json as FollowResult;
    expect(Value.Check(FollowResult, found)).toBe(true);
    expect(found.tones.map(({ verdict, speeds }) => [verdict, speeds.map(({ name }) => name)])).toEqual([
      ['follows', ['wheel']],
      ['follows', ['engine']],
      ['no-speed', []],
    ]);
    expect(found.tones[0]!.sentence).toMatch(
      /propeller shaft \(order 2\.0\)\. Expected there: universal joint rear joint\. Ruled out: engine\./,
    );
    expect(found.tones.every(({ confidence }) => confidence > 0.95)).toBe(true);
    // Part of the run; the part asked for is what is used.
    const part = (await ask({ fromMs: NOON_MS + 20_000, toMs: NOON_MS + 40_000 })).json as FollowResult;
    expect(part.used!.fromMs).toBeGreaterThanOrEqual(NOON_MS + 20_000);
    expect(part.used!.toMs).toBeLessThanOrEqual(NOON_MS + 40_000);
  });

  it('says which tone follows the load but no speed, and does not say it of one that stays as it is', async () => {
    const loadPercent = (t: number) => 50 + 40 * Math.sin(t / 4);
    for (const grows of [true, false]) {
      const { store, run, ask, startS } = await recordedDrive(
        grows ? (t) => loadPercent(t) / 100 : undefined,
      );
      const told = toldByVehicle(startS);
      const load = told
        .filter(({ quantity }) => quantity === 'engineSpeedRpm')
        .map(({ atMs }) => ({
          quantity: 'engineLoadPercent' as const,
          atMs,
          value: loadPercent(atMs / 1000 - startS),
        }));
      store.vehicleValues.add(run.id, [...told, ...load]);
      const hum = ((await ask()).json as FollowResult).tones.find(({ verdict }) => verdict === 'no-speed')!;
      if (grows) {
        expect(hum.sentence).toMatch(/follows no known speed: .* but its size follows the load/);
        expect(hum.loadCorrelation).toBeGreaterThan(0.8);
      } else {
        expect(hum.sentence).not.toMatch(/load/);
        expect(Math.abs(hum.loadCorrelation!)).toBeLessThan(0.6);
      }
    }
  });

  it('refuses a location without samples and a part outside the run', async () => {
    const { ask } = await recordedDrive();
    expect((await ask({ locationId: 99 })).json.code).toBe('LOCATION_NOT_FOUND');
    expect((await ask({ fromMs: NOON_MS + 90_000 })).json.code).toBe('SPAN_INVALID');
  });
});
