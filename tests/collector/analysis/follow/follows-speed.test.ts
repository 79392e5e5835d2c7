import { describe, expect, it } from 'vitest';
import { followsSpeed } from '../../../../collector/analysis/follow/follows-speed.ts';
import { bootstrapShare, rankCorrelation } from '../../../../collector/analysis/follow/statistics.ts';
import { speedAt } from '../../../../collector/dsp/resample.ts';
import { gaussian, seededRandom } from '../../../support/machine-signals.ts';

const RATE = 3200;
const SECONDS = 24;
/** Engine revs up and down while the wheel speeds up steadily; the shaft turns 4.1 times per wheel turn. */
const engine = { name: 'engine', timeS: [0, 6, 12, 18, 24], hz: [25, 40, 28, 45, 30] };
const wheel = { name: 'wheel', timeS: [0, 24], hz: [4, 9] };
const shaft = { name: 'output shaft', timeS: [0, 24], hz: [16.4, 36.9] };
const steady = { name: 'engine', timeS: [0, 24], hz: [30, 30.02] };

function record(
  tones: { channel?: typeof engine; order: number; amplitude: number; grows?: boolean }[],
  seed = 1,
  noise = 1,
) {
  const random = seededRandom(seed);
  const out = Float64Array.from({ length: RATE * SECONDS }, () => noise * gaussian(random));
  for (const { channel, order, amplitude, grows } of tones) {
    let turns = 0;
    for (let k = 0; k < out.length; k++) {
      const t = k / RATE;
      turns += (channel === undefined ? 1 : speedAt(channel, t)) / RATE;
      const size = grows ? (amplitude * (1 + Math.sin(t))) / 2 : amplitude;
      out[k]! += size * Math.cos(2 * Math.PI * order * turns);
    }
  }
  return out;
}

describe('followsSpeed', () => {
  it('tells which speed a tone follows, at its order, and is sure', () => {
    const samples = record([
      { channel: engine, order: 2, amplitude: 0.8 },
      { channel: wheel, order: 7.3, amplitude: 0.8 },
    ]);
    const tones = followsSpeed({ samples, sampleRateHz: RATE, speeds: [engine, wheel] });
    const found = tones.map(({ verdict, speeds }) => [verdict, speeds[0]?.name, speeds[0]?.order.toFixed(1)]);
    expect(found).toContainEqual(['follows', 'engine', '2.0']);
    expect(found).toContainEqual(['follows', 'wheel', '7.3']);
    expect(tones).toHaveLength(2);
    for (const tone of tones) expect(tone.confidence).toBeGreaterThan(0.95);
    expect(tones[0]!.amplitudeRms).toBeCloseTo(0.8 / Math.SQRT2, 1);
  });

  it('is not led astray by a shaft that stands for a while, and finds a strong tone once all the same', () => {
    // As at a stop: the engine idles on while what turns with the wheels stands.
    const idling = { name: 'engine', timeS: [0, 8, 12, 18, 24], hz: [14, 14, 40, 24, 33] };
    const rolling = { name: 'wheel', timeS: [0, 8, 24], hz: [0, 0, 9] };
    const mesh = (channel: typeof engine, order: number, amplitude: number) => ({
      channel,
      order,
      amplitude,
    });
    const tones = followsSpeed({
      samples: record([mesh(idling, 11, 1.2), mesh(idling, 2, 0.9), mesh(rolling, 23, 0.8)], 5, 0.5),
      sampleRateHz: RATE,
      speeds: [idling, rolling],
      highestHz: 500,
    });
    const found = tones.map(
      ({ verdict, speeds }) => `${verdict} ${speeds[0]?.name} ${speeds[0]?.order.toFixed(1)}`,
    );
    expect(found.toSorted()).toEqual(['follows engine 11.0', 'follows engine 2.0', 'follows wheel 23.0']);
  });

  it('finds a tone far above the noise once, at its order and size, where another crosses it', () => {
    const samples = record(
      [
        { channel: engine, order: 2, amplitude: 0.9 },
        { channel: wheel, order: 11.5, amplitude: 1.2 },
      ],
      3,
      0.3,
    );
    const tones = followsSpeed({ samples, sampleRateHz: RATE, speeds: [engine, wheel] });
    expect(tones).toHaveLength(2);
    const found = tones.find((tone) => tone.speeds[0]?.name === 'wheel')!;
    expect(found.speeds[0]!.order).toBeCloseTo(11.5, 1);
    expect(found.amplitudeRms * Math.SQRT2).toBeCloseTo(1.2, 1);
  });

  it('returns shafts in one fixed ratio as a set', () => {
    const samples = record([{ channel: shaft, order: 2, amplitude: 1 }]);
    const [tone] = followsSpeed({ samples, sampleRateHz: RATE, speeds: [engine, wheel, shaft] });
    expect(tone!.verdict).toBe('follows');
    expect(tone!.speeds.map((speed) => speed.name).sort()).toEqual(['output shaft', 'wheel']);
    expect(tone!.speeds.find((speed) => speed.name === 'wheel')!.order).toBeCloseTo(8.2, 1);
  });

  it('reports a tone that stays as following no speed, and that it grows with the load', () => {
    const samples = record([{ order: 120, amplitude: 1, grows: true }]);
    const timeS = Array.from({ length: 49 }, (_, k) => k / 2);
    const load = { timeS, value: timeS.map((t) => 50 + 50 * Math.sin(t)) };
    const [tone] = followsSpeed({ samples, sampleRateHz: RATE, speeds: [engine, wheel], load });
    expect(tone!.verdict).toBe('no-speed');
    expect(tone!.speeds).toEqual([]);
    expect(tone!.frequencyHz).toBeCloseTo(120, 0);
    expect(tone!.loadCorrelation).toBeGreaterThan(0.8);
    expect(tone!.reason).toContain('load');
  });

  it('cannot say when the speed hardly varies', () => {
    const samples = record([{ channel: steady, order: 4, amplitude: 1 }]);
    const [tone] = followsSpeed({ samples, sampleRateHz: RATE, speeds: [steady] });
    expect(tone!.verdict).toBe('cannot-say');
    expect(tone!.reason).toContain('too little');
  });

  it('finds nothing in noise, and never a wrong speed for a faint tone, over 24 records', () => {
    let right = 0;
    for (let seed = 1; seed <= 24; seed++) {
      const amplitude = seed % 4 === 0 ? 0 : 0.1 * (seed % 4);
      const channel = seed % 2 === 0 ? engine : wheel;
      const order = channel === engine ? 3 : 11.5;
      const samples = record([{ channel, order, amplitude }], seed);
      for (const tone of followsSpeed({ samples, sampleRateHz: RATE, speeds: [engine, wheel] })) {
        if (tone.verdict !== 'follows') continue;
        expect(tone.speeds.map((speed) => speed.name)).toEqual([channel.name]);
        expect(Math.abs(tone.speeds[0]!.order / order - 1)).toBeLessThan(0.03);
        right++;
      }
    }
    expect(right).toBeGreaterThan(9);
  });

  it('has nothing to say of an empty record, and names a bad channel', () => {
    expect(followsSpeed({ samples: new Float64Array(100), sampleRateHz: RATE, speeds: [engine] })).toEqual(
      [],
    );
    const bad = { name: 'turbine', timeS: [1, 0], hz: [5, 5] };
    const samples = new Float64Array(RATE * 10);
    expect(() => followsSpeed({ samples, sampleRateHz: RATE, speeds: [bad] })).toThrow(/turbine/);
  });
});

describe('statistics', () => {
  it('rank correlation: 1 for any rising curve, null for a constant', () => {
    expect(rankCorrelation([1, 2, 3, 4], [1, 8, 27, 64])).toBeCloseTo(1, 12);
    expect(rankCorrelation([1, 2, 2, 4], [4, 3, 3, 1])).toBeCloseTo(-1, 12);
    expect(rankCorrelation([1, 2, 3], [5, 5, 5])).toBeNull();
  });

  it('bootstrap: half for twins, nearly all for a clear lead', () => {
    const own = Array.from({ length: 40 }, (_, k) => (k % 4 < 2 ? 1 : 0));
    const twin = own.map((value) => 1 - value);
    expect(bootstrapShare(own, [twin])).toBeGreaterThan(0.25);
    expect(bootstrapShare(own, [twin])).toBeLessThan(0.75);
    expect(
      bootstrapShare(
        own.map((v) => v + 1),
        [twin],
      ),
    ).toBeGreaterThan(0.99);
  });
});
