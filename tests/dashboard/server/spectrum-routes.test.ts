import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import type { BlockSpectrum } from '../../../collector/model.ts';
import { KeptSpectrum } from '../../../dashboard/contract/model.ts';
import { reading } from './stored-readings.ts';
import { NODE_A, NODE_B, NOON_MS, testApp } from './support.ts';

const minute = (n: number) => NOON_MS + 60_000 * n;

/** A second with a density that gives `level` m/s² RMS in the first band (5.01 to 5.31 Hz) of axis x. */
function second(nodeId: string, sensor: number, atMs: number, level: number) {
  const width = 1000 * (10 ** (-91 / 40) - 10 ** (-92 / 40));
  const density = [level, level / 2, 0].map((value) => Float64Array.of(value ** 2 / width, 0));
  const spectrum: BlockSpectrum = {
    nodeId,
    sensor,
    startMs: atMs,
    axes: ['x', 'y', 'z'],
    firstBand: -92,
    density,
  };
  return { reading: reading(nodeId, sensor, atMs), spectrum };
}

/** A hub that had sensor A from minute 0 to 10 and sensor B from minute 12 on. */
async function station() {
  const test = await testApp();
  const { store, readings } = test;
  const { cookie } = await test.as('technician');
  store.nodes.add(NODE_A, 'a');
  store.nodes.add(NODE_B, 'b');
  const asset = store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
  const hub = store.assets.addLocation(asset.id, { name: 'Hub', component: 'Rotor' });
  store.mounts.put(hub.id, { nodeId: NODE_A, sensor: 0 }, minute(0));
  test.time.advance(600_000);
  store.mounts.put(hub.id, null);
  store.mounts.put(hub.id, { nodeId: NODE_B, sensor: 2 }, minute(12) + 30_000);
  test.time.advance(1_800_000);
  await readings.addWithSpectra(
    ...[0, 1, 2, 3].map((n) => second(NODE_A, 0, minute(n) + 5000, 3)),
    // Measured when it sat elsewhere already.
    second(NODE_A, 0, minute(11), 99),
    second(NODE_B, 2, minute(12) + 5000, 99),
    ...[13, 14].map((n) => second(NODE_B, 2, minute(n), 4)),
  );
  const get = async (fromMs: number, toMs: number) =>
    test.call('GET', `/api/locations/${hub.id}/spectrum?fromMs=${fromMs}&toMs=${toMs}`, { cookie });
  return { ...test, get };
}

describe('the kept spectrum of a location', () => {
  it('is the mean of the minutes asked for, in m/s² RMS a band', async () => {
    const { get } = await station();
    const found = (await get(minute(1), minute(3))).json as KeptSpectrum;
    expect(Value.Check(KeptSpectrum, found)).toBe(true);
    const { spectrum } = found;
    expect(spectrum).toMatchObject({
      fromMs: minute(1),
      toMs: minute(3),
      seconds: 2,
      mount: { nodeId: NODE_A, sensor: 0, sinceMs: minute(0) },
    });
    expect(spectrum!.edgesHz).toHaveLength(3);
    expect(spectrum!.edgesHz[0]).toBeCloseTo(5.0119, 4);
    expect(spectrum!.axes.map(({ axis }) => axis)).toEqual(['x', 'y', 'z']);
    expect(spectrum!.axes[0]!.rmsMPerS2[0]).toBeCloseTo(3, 2);
    expect(spectrum!.axes[1]!.rmsMPerS2[0]).toBeCloseTo(1.5, 2);
    expect(spectrum!.axes[2]!.rmsMPerS2[0]).toBe(0);
  });

  it('is of the sensor that measured most of the span, and never of a time when it sat elsewhere', async () => {
    const { get } = await station();
    const whole = (await get(minute(-60), minute(60))).json as KeptSpectrum;
    expect(whole.spectrum).toMatchObject({ seconds: 4, mount: { nodeId: NODE_A } });
    const late = (await get(minute(10), minute(60))).json as KeptSpectrum;
    // Minute 12 began before the sensor was put on.
    expect(late.spectrum).toMatchObject({ seconds: 2, fromMs: minute(13), mount: { nodeId: NODE_B } });
  });

  it('names the nearest minute where none was kept', async () => {
    const { get } = await station();
    expect((await get(minute(5), minute(6))).json).toEqual({ spectrum: null, nearestMs: minute(3) });
    expect((await get(minute(10), minute(12))).json).toEqual({ spectrum: null, nearestMs: minute(13) });
  });

  it('is given for a day at most', async () => {
    const { get } = await station();
    expect((await get(0, 86_400_001)).json.code).toBe('SPAN_TOO_LONG');
    expect((await get(7, 7)).json.code).toBe('SPAN_INVALID');
    expect((await get(0, 86_400_000)).json.spectrum).toBeNull();
  });
});
