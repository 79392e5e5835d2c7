import { describe, expect, it } from 'vitest';
import { bearingFromText } from '../../../collector/drivetrain/index.ts';
import { analyseStretch } from '../../../collector/findings/analyse-stretch.ts';
import { alignedRecord } from '../../../collector/inquiry/aligned.ts';
import { recordsOf } from '../../../collector/inquiry/compare-run.ts';
import { bangingSensor } from '../../support/banging-sensor.ts';
import { addDefect, healthySignal, seededRandom } from '../../support/machine-signals.ts';
import { simulatedNode } from '../../support/simulated-node.ts';
import { journalOf } from '../capture/journal-of.ts';

const FULL_SCALE = 1000;
const START_S = 1_760_000_000;
const raw = (samples: Float64Array) => Float32Array.from(samples, (value) => (value / FULL_SCALE) * 32768);

function stretchOf(samples: Float64Array, sampleRateHz: number) {
  return {
    startMs: START_S * 1000,
    sampleRateHz,
    timeUncertaintyMs: 1,
    fullScaleMPerS2: FULL_SCALE,
    axes: ['z' as const],
    samples: [raw(samples)],
    clipped: [],
    board: 'a',
  };
}

describe('where a sensor rattles', () => {
  const rate = 6400;

  it('its seconds are not compared', () => {
    const { base, loose } = bangingSensor(rate, 6);
    loose.set(base.subarray(0, 4 * rate));
    const place = { locationId: 1, name: 'hub', stretches: [stretchOf(loose, rate)], gaps: [] };
    const seconds = Array.from({ length: 6 }, (_, k) => START_S + k);
    expect(alignedRecord(place, seconds)).toMatchObject({ unusableWindows: [4, 5], rattlingSeconds: 2 });
  });

  it('a place whose clamp is loose throughout is left out with the reason, and the others stay', async () => {
    const slow = 3200;
    const { base, loose } = bangingSensor(slow, 9);
    const at = (signal: Float64Array, unixS: number) => signal[Math.round((unixS - START_S) * slow)] ?? 0;
    const node = simulatedNode({
      startS: START_S,
      fullScaleMPerS2: FULL_SCALE,
      channels: [
        { sensor: 0, axis: 'z' },
        { sensor: 1, axis: 'z' },
      ],
      signal: (unixS, channel) => at(channel === 0 ? base : loose, unixS),
    });
    const packets = Array.from({ length: node.packetsIn(9) }, (_, i) => node.packet(i));
    const journal = await journalOf([...packets, node.exchange(0.5), node.exchange(5)]);
    try {
      const span = { fromMs: 0, toMs: 1e15 };
      const places = [0, 1].map((sensor) => ({
        locationId: sensor,
        name: ['gearbox', 'hub'][sensor]!,
        stays: [{ nodeId: '00000000000000a1', sensor, ...span }],
      }));
      const seconds = Array.from({ length: 6 }, (_, k) => START_S + 2 + k);
      const { records, missing } = await recordsOf(
        { kind: 'journal', journalDir: journal.dir, places },
        seconds,
      );
      expect(records.map(({ name }) => name)).toEqual(['gearbox']);
      expect(missing).toEqual([
        { locationId: 1, name: 'hub', reason: 'its sensor rattled in its clamp: tighten it and run again' },
      ]);
    } finally {
      await journal.remove();
    }
  });

  it('no part is named with confidence', () => {
    const random = seededRandom(4711);
    const multipliers = bearingFromText('6205');
    const machine = { rate, seconds: 12, shaftHz: 25, statedHz: 25, multipliers };
    const damaged = addDefect(
      healthySignal(machine, random),
      machine,
      { part: 'outer', snrDb: 0, slip: 0, jitter: 0.005 },
      random,
    );
    const question = {
      sensor: { nodeId: 'a', sensor: 0 },
      span: { fromMs: 0, toMs: 1 },
      title: 'hub',
      shaftHz: 25,
      bearing: multipliers,
      gears: [],
      otherLinesHz: [],
    };
    expect(analyseStretch(stretchOf(damaged, rate), question).verdict).toBe('outer');
    const partly = damaged.slice();
    partly.set(bangingSensor(rate, 2).loose);
    expect(analyseStretch(stretchOf(partly, rate), question)).toMatchObject({
      verdict: 'not-clear',
      reason: expect.stringMatching(/but the sensor rattled in its clamp/),
    });
  });
});
