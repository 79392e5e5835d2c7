import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { SlipResult } from '../../../dashboard/contract/slip.ts';
import type { VehicleValue } from '../../../dashboard/server/records/vehicle-values.ts';
import { NOON_MS, testApp } from './support.ts';

/** A run of 20 s in fourth gear: engine 2000 rpm, turbine 1990, output 1400 at a ratio of 1.4 (so 30 rpm of clutch slip). */
async function drivenRun() {
  const test = await testApp();
  const { cookie } = await test.as('technician');
  const { store, time } = test;
  const bus = store.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
  const run = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
  const values: VehicleValue[] = [];
  for (let i = 0; i < 100; i++) {
    const atMs = NOON_MS + 200 * i;
    values.push({ quantity: 'engineSpeedRpm', atMs, value: 2000 });
    values.push({ quantity: 'turbineSpeedRpm', atMs, value: 1990 });
    values.push({ quantity: 'outputSpeedRpm', atMs, value: 1400 });
    values.push({ quantity: 'gear', atMs, value: 4 });
  }
  store.vehicleValues.add(run.id, values);
  time.advance(20_000);
  store.runs.end(run.id);
  const ask = (body: object = {}) => test.call('POST', `/api/runs/${run.id}/slip`, { cookie, body });
  const patch = (body: object) => test.call('PATCH', `/api/runs/${run.id}`, { cookie, body });
  return { ...test, cookie, bus, run, ask, patch };
}

describe('slip of a run', () => {
  it('is worked out from what the vehicle told, with the ratio of the drive train in the gear told', async () => {
    const { store, bus, ask } = await drivenRun();
    const bare = (await ask({ converter: 'locked' })).json as SlipResult;
    expect(Value.Check(SlipResult, bare)).toBe(true);
    expect(bare.converter).toMatchObject({ answer: 'slip', slipRpm: 10, against: 'within' });
    expect(bare.clutch.sentence).toMatch(/ratio of the gear is not known/);
    expect((await ask({ gearRatio: 1.4 })).json.clutch.slipRpm).toBeCloseTo(30, 6);

    store.driveTrains.put(bus.id, {
      ...store.driveTrains.of(bus.id),
      shafts: ['engine', 'turbine', 'output shaft'],
      couplings: [
        { kind: 'slipping', name: 'converter', driving: 'engine', driven: 'turbine' },
        {
          kind: 'ratio',
          name: 'gearbox',
          driving: 'turbine',
          driven: 'output shaft',
          ratio: { '3': 2, '4': 1.4 },
        },
      ],
      vehicleSpeeds: {
        engineSpeedRpm: 'engine',
        turbineSpeedRpm: 'turbine',
        outputSpeedRpm: 'output shaft',
      },
    });
    const known = (await ask()).json as SlipResult;
    expect(known.clutch).toMatchObject({ driving: 'turbine', against: 'outside' });
    expect(known.clutch.slipRpm).toBeCloseTo(30, 6);
  });

  it('refuses a ratio of nothing and a span outside of the run', async () => {
    const { ask } = await drivenRun();
    expect((await ask({ gearRatio: 0 })).status).toBe(400);
    expect((await ask({ fromMs: NOON_MS + 50_000 })).json.code).toBe('SPAN_INVALID');
    expect((await ask({ manoeuvreId: 99 })).json.code).toBe('MANOEUVRE_NOT_FOUND');
  });
});

describe('what a vehicle told, sent for a run that has ended', () => {
  it('is taken where it lies in the run, and refused where none of it does or where it cannot be', async () => {
    const { run, call, cookie } = await drivenRun();
    const send = (samples: object[]) =>
      call('POST', `/api/runs/${run.id}/vehicle`, { cookie, body: { samples } });
    const file = (body: string, startMs = NOON_MS) =>
      call('POST', `/api/runs/${run.id}/vehicle-file?startMs=${startMs}`, {
        cookie,
        body,
        headers: { 'content-type': 'text/csv' },
      });
    const inside = { atMs: NOON_MS + 1_000, gear: 4 };
    const far = { atMs: NOON_MS + 500_000, gear: 4 };
    expect((await send([inside, far])).json).toEqual({ taken: 1 });
    expect((await send([far])).json).toMatchObject({ code: 'SPAN_INVALID', field: 'atMs' });
    const rows = 'time [s],engine speed [rpm]\n0,800\n1,';
    expect((await file(`${rows}810\n`)).json).toEqual({ taken: 2 });
    expect((await file(`${rows}810\n`, NOON_MS + 900_000)).json.message).toMatch(
      /^None of the values was taken during the run, which lasted from 2025-01-01T12:00:00/,
    );
    for (const wrong of ['-7', '1e999'])
      expect((await file(`${rows}${wrong}\n`)).json.message).toMatch(/^Row 2 of values: engineSpeedRpm/);
  });
});

describe('trouble codes of a run', () => {
  it('are kept once each with their generic meaning, and taken off again', async () => {
    const { patch } = await drivenRun();
    const noted = (await patch({ troubleCodes: [' p0733', 'P0741', 'P0741', 'P1234'] })).json;
    expect(
      noted.troubleCodes.map(({ code, meaning }: { code: string; meaning: string }) => [code, meaning]),
    ).toEqual([
      ['P0733', 'Gear 3 incorrect ratio'],
      ['P0741', 'Torque converter clutch circuit performance or stuck off'],
      ['P1234', null],
    ]);
    expect((await patch({ notes: 'cold' })).json.troubleCodes).toHaveLength(3);
    expect((await patch({ troubleCodes: [] })).json.troubleCodes).toEqual([]);
  });

  it('are refused with the reason where they are none', async () => {
    const { patch } = await drivenRun();
    const refused = await patch({ troubleCodes: ['gearbox'] });
    expect(refused.status).toBe(400);
    expect(refused.json).toMatchObject({ code: 'VALIDATION_FAILED', field: 'troubleCodes' });
    expect(refused.json.message).toMatch(/^"gearbox" is no trouble code/);
  });
});
