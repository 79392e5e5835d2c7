import { describe, expect, it } from 'vitest';
import { type SensorBlock, whichSensorFelt } from '../../../collector/tap/index.ts';
import { seededRandom } from '../../support/machine-signals.ts';
import { tapCapture } from './ring-signals.ts';

const START = Date.UTC(2024, 4, 1, 10);

function block(
  sensorId: string,
  amplitude: number,
  atS = 0.5,
  timeUncertaintyMs: number | null = 10,
): SensorBlock {
  const samples = tapCapture([{ frequencyHz: 300, dampingRatio: 0.05, amplitude }], {
    rateHz: 3200,
    seconds: 1,
    rapsAtS: amplitude > 0 ? [atS] : [],
    noise: 0.02,
    random: seededRandom(sensorId.length + 100 * amplitude),
  });
  const still = tapCapture([], {
    rateHz: 3200,
    seconds: 1,
    rapsAtS: [],
    noise: 0.02,
    random: seededRandom(9),
  });
  return {
    sensorId,
    startMs: START,
    timeUncertaintyMs,
    sampleRateHz: 3200,
    axes: [still, samples.map((v) => v + 9.81)],
  };
}

describe('tap to identify', () => {
  it('names the sensor that felt it most, with its time', () => {
    const { sensorId, felt } = whichSensorFelt([block('a', 2), block('bb', 20), block('ccc', 0)]);
    expect(sensorId).toBe('bb');
    expect(felt.map((one) => one.sensorId)).toEqual(['bb', 'a', 'ccc']);
    expect(Math.abs(felt[0]!.atMs! - START - 500)).toBeLessThan(2);
    expect(felt[2]).toEqual({ sensorId: 'ccc', peakMPerS2: 0, atMs: null });
  });
  it('names none where nobody tapped', () => {
    expect(whichSensorFelt([block('a', 0), block('bb', 0)])).toMatchObject({
      sensorId: null,
      reason: expect.stringMatching(/no sensor felt/),
    });
    expect(whichSensorFelt([]).sensorId).toBeNull();
  });
  it('does not choose between two that felt it alike', () => {
    expect(whichSensorFelt([block('a', 15), block('bb', 20)])).toMatchObject({
      sensorId: null,
      reason: expect.stringMatching(/about alike/),
    });
  });
  it('notices that another felt something well before', () => {
    expect(whichSensorFelt([block('a', 20, 0.7), block('bb', 5, 0.3)])).toMatchObject({
      sensorId: null,
      reason: expect.stringMatching(/bb felt it first/),
    });
  });
  it('goes by size alone where a clock is not known', () => {
    expect(whichSensorFelt([block('a', 20, 0.7), block('bb', 5, 0.3, null)]).sensorId).toBe('a');
  });
});
