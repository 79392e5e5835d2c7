import { afterEach, describe, expect, it } from 'vitest';
import type { AxisValues, Flag, Reading } from '../../../collector/model.ts';
import type { ReadingStore, SeriesQuery } from '../../../collector/store/reading-store.ts';

/** Opens the store under test; with the same `place`, the store opened before under it (after it was closed). */
export type OpenStore = (place: string) => Promise<ReadingStore>;

const NODE = '00000000000000b1';
/** A whole hour. */
const BEGIN_S = 1_760_000_400;

function axis(name: AxisValues['axis'], velocity: number | null, kurtosis = 3): AxisValues {
  return {
    axis: name,
    velocityRmsMmPerS: velocity,
    accelerationRmsMPerS2: velocity === null ? null : velocity * 2,
    accelerationPeakMPerS2: velocity === null ? null : velocity * 7,
    crestFactor: 3.5,
    kurtosis,
  };
}

export function madeReading(second: number, velocity: number | null, extra: Partial<Reading> = {}): Reading {
  return {
    nodeId: NODE,
    sensor: 0,
    startMs: (BEGIN_S + second) * 1000,
    durationS: 1,
    sampleRateHz: 3200,
    bandHz: [10, 1000],
    axes: [axis('x', velocity), axis('y', velocity === null ? null : velocity / 2)],
    flags: [],
    timeUncertaintyMs: 2,
    ...extra,
  };
}

function query(extra: Partial<SeriesQuery> & { from: number; to: number }): SeriesQuery {
  const { from, to, ...rest } = extra;
  return {
    sensor: { nodeId: NODE, sensor: 0 },
    value: 'velocityRmsMmPerS',
    axis: 'x',
    fromMs: (BEGIN_S + from) * 1000,
    toMs: (BEGIN_S + to) * 1000,
    maxPoints: 1,
    ...rest,
  };
}

const numbers = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i);
const rms = (values: number[]) => Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);
const median = (values: number[]) => {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return Number.isInteger(middle) ? (sorted[middle - 1]! + sorted[middle]!) / 2 : sorted[Math.floor(middle)]!;
};

/**
 * What every store of readings must do, whatever it is made of. Values may be kept to six digits.
 *
 * @param part `readings` leaves out what series must be
 */
export function readingStoreContract(name: string, open: OpenStore, part: 'all' | 'readings' = 'all'): void {
  const opened: ReadingStore[] = [];
  let places = 0;
  async function store(place = `place-${places++}`): Promise<ReadingStore> {
    const made = await open(place);
    opened.push(made);
    return made;
  }
  afterEach(async () => {
    for (const one of opened.splice(0)) await one.close();
  });

  describe(`${name}: store of readings`, () => {
    it('is empty at first', async () => {
      const s = await store();
      expect(await s.latest()).toEqual([]);
      expect(await s.readings({ nodeId: NODE, sensor: 0 }, 0, 1e15)).toEqual([]);
      expect((await s.series(query({ from: 0, to: 60 }))).timeMs).toEqual([]);
      expect(await s.journalPosition()).toBe(0);
      expect(await s.pipelineState()).toEqual([]);
    });

    it('gives back what it was given', async () => {
      const s = await store();
      const flags: Flag[] = [
        'clipped',
        'gap',
        'below-noise-floor',
        'band-not-covered',
        'settling',
        'unknown-scale',
        'stuck',
        'time-unknown',
        'rattle',
      ];
      const given = [
        madeReading(0, 1.25),
        madeReading(1, null, { flags, timeUncertaintyMs: null, axes: [axis('z', null), axis('x', 0.5)] }),
        madeReading(2, 0.75, {
          sensor: 15,
          axes: [axis('single', 0.75)],
          durationS: 0.5,
          bandHz: [2, 390.625],
        }),
      ];
      await s.commit(given, 10);
      const back = [
        ...(await s.readings({ nodeId: NODE, sensor: 0 }, 0, 1e15)),
        ...(await s.readings({ nodeId: NODE, sensor: 15 }, 0, 1e15)),
      ];
      expect(back).toEqual(given);
    });

    it('keeps a reading without a stated uncertainty as one', async () => {
      const s = await store();
      const { timeUncertaintyMs: _, ...given } = madeReading(0, 1);
      await s.commit([given], 1);
      expect(await s.latest()).toEqual([given]);
    });

    it('keeps gravity and the uncertainty of the velocity, and tells "no number" from "not kept"', async () => {
      const s = await store();
      const withAdded = (second: number, added: Partial<AxisValues>[], extra: Partial<Reading> = {}) =>
        madeReading(second, 1, {
          axes: added.map((own, i) => ({ ...axis((['x', 'y', 'z'] as const)[i]!, 1 + i), ...own })),
          ...extra,
        });
      const given = [
        withAdded(0, [
          { meanMPerS2: -9.75, velocityUncertaintyMmPerS: 0.125 },
          { meanMPerS2: 0.5, velocityUncertaintyMmPerS: 0.25 },
          { meanMPerS2: 0, velocityUncertaintyMmPerS: 0.5 },
        ]),
        // While the filter settles there is no velocity, and so no uncertainty of it.
        withAdded(1, [{ meanMPerS2: 9.75, velocityUncertaintyMmPerS: null }], { flags: ['settling'] }),
        // The direction of a single axis is not known.
        madeReading(2, 1, {
          axes: [{ ...axis('single', 1), meanMPerS2: null, velocityUncertaintyMmPerS: 0.125 }],
        }),
        withAdded(3, [{ meanMPerS2: null, velocityUncertaintyMmPerS: null }], { flags: ['unknown-scale'] }),
        // Of versions before the uncertainty, and before the mean.
        withAdded(4, [{ meanMPerS2: 1.5 }, { meanMPerS2: -1.5 }]),
        withAdded(5, [{}, {}]),
      ];
      await s.commit(given, 1);
      const back = async () => s.readings({ nodeId: NODE, sensor: 0 }, 0, 1e15);
      for (const [i, one] of (await back()).entries()) expect(one).toStrictEqual(given[i]);
      expect(await s.latest()).toStrictEqual([given[5]]);
      // What came late takes the place of what was measured without it, whole.
      const whole = withAdded(1, [{ meanMPerS2: 9.5, velocityUncertaintyMmPerS: 0.75 }]);
      await s.commit([whole], 2);
      expect((await back())[1]).toStrictEqual(whole);
    });

    it('keeps six digits of every value', async () => {
      const s = await store();
      await s.commit([madeReading(0, 1.234567891, { sampleRateHz: 3187.654321 })], 1);
      const [reading] = await s.latest();
      expect(Math.abs(reading!.axes[0]!.velocityRmsMmPerS! / 1.234567891 - 1)).toBeLessThan(1e-6);
      expect(Math.abs(reading!.sampleRateHz / 3187.654321 - 1)).toBeLessThan(1e-6);
    });

    it('refuses a reading that begins inside a second and keeps nothing of its batch', async () => {
      const s = await store();
      await s.commit([], 5);
      const bad = { ...madeReading(1, 1), startMs: BEGIN_S * 1000 + 500 };
      await expect(s.commit([madeReading(0, 1), bad], 9)).rejects.toThrow(RangeError);
      expect(await s.latest()).toEqual([]);
      expect(await s.journalPosition()).toBe(5);
      await s.commit([madeReading(0, 1)], 9);
      expect(await s.latest()).toHaveLength(1);
    });

    it('selects by time, end excluded, and by sensor', async () => {
      const s = await store();
      const of = (second: number, extra: Partial<Reading>) => madeReading(second, second + 1, extra);
      await s.commit(
        [0, 1, 2, 3].map((k) => of(k, {})),
        1,
      );
      await s.commit([of(1, { sensor: 1 }), of(2, { nodeId: '00000000000000b2' })], 2);
      const found = await s.readings({ nodeId: NODE, sensor: 0 }, (BEGIN_S + 1) * 1000, (BEGIN_S + 3) * 1000);
      expect(found.map((r) => r.startMs / 1000 - BEGIN_S)).toEqual([1, 2]);
    });

    it('tells the newest reading of each sensor, whatever came last', async () => {
      const s = await store();
      await s.commit([madeReading(100, 1), madeReading(50, 2, { sensor: 1 })], 1);
      await s.commit([madeReading(7, 3)], 2);
      const latest = (await s.latest()).map((r) => [r.sensor, r.startMs / 1000 - BEGIN_S]);
      expect(latest.sort()).toEqual([
        [0, 100],
        [1, 50],
      ]);
    });

    it('counts a second once: the first reading stays', async () => {
      const s = await store();
      await s.commit([madeReading(0, 1)], 1);
      await s.commit([madeReading(0, 2), madeReading(1, 3), madeReading(1, 4)], 2);
      const found = await s.readings({ nodeId: NODE, sensor: 0 }, 0, 1e15);
      expect(found.map((r) => r.axes[0]!.velocityRmsMmPerS)).toEqual([1, 3]);
      expect(await s.series(query({ from: 0, to: 60 }))).toMatchObject({ count: [2] });
    });

    it.each<Flag>(['gap', 'settling', 'time-unknown'])(
      'lets a reading flagged %s give way to a sound one',
      async (flag) => {
        const s = await store();
        await s.commit([madeReading(0, 1, { flags: [flag] }), madeReading(200, 1)], 1);
        await s.commit([madeReading(0, 2, { flags: [flag] })], 2);
        const first = async () =>
          (await s.readings({ nodeId: NODE, sensor: 0 }, 0, (BEGIN_S + 1) * 1000))[0]!;
        expect((await first()).axes[0]!.velocityRmsMmPerS).toBe(1);
        await s.commit([madeReading(0, 3, { flags: ['clipped'] })], 3);
        expect(await first()).toMatchObject({ flags: ['clipped'] });
        await s.commit([madeReading(0, 4)], 4);
        expect(await first()).toMatchObject({ flags: ['clipped'] });
      },
    );

    it('completes a minute and an hour when a sound reading takes the place of a flagged one', async () => {
      const s = await store();
      await s.commit([madeReading(0, 9, { flags: ['gap'] }), madeReading(1, 2)], 1);
      await s.commit([madeReading(8000, 1)], 2);
      const ask = async (points: number) => s.series(query({ from: 0, to: 3600, maxPoints: points }));
      expect(await ask(1)).toMatchObject({ count: [2], flagged: [1], value: [2] });
      await s.commit([madeReading(0, 4)], 3);
      for (const points of [1, 60]) {
        const series = await ask(points);
        expect(series).toMatchObject({ count: [2], flagged: [0], maximum: [4] });
        expect(series.value[0]).toBeCloseTo(rms([4, 2]), 5);
      }
    });

    it('moves cursor and state with the readings, and finds them again', async () => {
      const s = await store('kept');
      await s.commit([madeReading(0, 1)], 123_456_789_012, {
        set: [
          ['a', '1'],
          ['b', '2'],
        ],
        remove: [],
      });
      await s.commit([], 123_456_789_013, { set: [['a', '3']], remove: ['b', 'never there'] });
      await s.close();
      opened.splice(0);
      const again = await store('kept');
      expect(await again.journalPosition()).toBe(123_456_789_013);
      expect(await again.pipelineState()).toEqual([['a', '3']]);
      expect(await again.latest()).toHaveLength(1);
    });
  });

  describe.skipIf(part === 'readings')(`${name}: series`, () => {
    const seconds = numbers(0, 7300);
    const velocity = (second: number) => 1 + (second % 11) * 0.25;
    const kurtosis = (second: number) => 2 + ((second * 37) % 97) / 10;
    const left = (second: number) => second % 50 === 7;

    async function filled(): Promise<ReadingStore> {
      const s = await store();
      const readings = seconds.map((k) =>
        madeReading(k, velocity(k), {
          axes: [axis('x', velocity(k), kurtosis(k)), axis('y', k % 2 === 0 ? velocity(k) * 2 : 0.1)],
          flags: left(k) ? ['clipped'] : ['below-noise-floor'],
        }),
      );
      for (let at = 0; at < readings.length; at += 777) await s.commit(readings.slice(at, at + 777), at);
      return s;
    }

    it('combines by energy, by the largest and by the median, and leaves spoilt readings out', async () => {
      const s = await filled();
      const inSlot = numbers(0, 30).filter((k) => !left(k));
      const ask = (value: SeriesQuery['value']) => s.series(query({ from: 0, to: 30, value }));
      const v = await ask('velocityRmsMmPerS');
      expect(v).toMatchObject({ timeMs: [(BEGIN_S + 15) * 1000], count: [30], flagged: [1] });
      expect(v.value[0]).toBeCloseTo(rms(inSlot.map(velocity)), 5);
      expect(v.minimum[0]).toBeCloseTo(Math.min(...inSlot.map(velocity)), 5);
      expect(v.maximum[0]).toBeCloseTo(Math.max(...inSlot.map(velocity)), 5);
      expect((await ask('accelerationPeakMPerS2')).value[0]).toBeCloseTo(
        7 * Math.max(...inSlot.map(velocity)),
        4,
      );
      expect((await ask('kurtosis')).value[0]).toBeCloseTo(median(inSlot.map(kurtosis)), 5);
    });

    it('says the same from seconds, minutes and hours', async () => {
      const s = await filled();
      const inHour = numbers(0, 3600).filter((k) => !left(k));
      for (const points of [1, 60, 3600]) {
        const series = await s.series(query({ from: 0, to: 3600, maxPoints: points }));
        expect(series.timeMs).toHaveLength(points);
        const counts = series.count.map((count, i) => count - series.flagged[i]!);
        const energy = series.value.reduce<number>(
          (sum, value, i) => sum + counts[i]! * (value ?? 0) ** 2,
          0,
        );
        expect(counts.reduce((a, b) => a + b)).toBe(inHour.length);
        expect(Math.sqrt(energy / inHour.length)).toBeCloseTo(rms(inHour.map(velocity)), 5);
        expect(Math.max(...series.maximum.map(Number))).toBeCloseTo(3.5, 5);
      }
    });

    it('takes the highest axis of each block, not of the average', async () => {
      const s = await filled();
      const highest = numbers(0, 3600)
        .filter((k) => !left(k))
        .map((k) => (k % 2 === 0 ? velocity(k) * 2 : velocity(k)));
      for (const points of [1, 60]) {
        const series = await s.series(query({ from: 0, to: 3600, axis: 'highest', maxPoints: points }));
        const largest = Math.max(...series.maximum.map(Number));
        expect(largest).toBeCloseTo(Math.max(...highest), 5);
      }
      const one = await s.series(query({ from: 0, to: 3600, axis: 'highest' }));
      expect(one.value[0]).toBeCloseTo(rms(highest), 5);
    });

    it('counts the newest, unfinished minute too', async () => {
      const s = await filled();
      for (const points of [2, 122]) {
        const series = await s.series(query({ from: 0, to: 7320, maxPoints: points }));
        expect(series.count.reduce((a, b) => a + b)).toBe(7300);
      }
    });

    it('leaves empty slots out and gives null where only spoilt readings are', async () => {
      const s = await store();
      await s.commit([madeReading(10, 1), madeReading(50, 2, { flags: ['stuck'] })], 1);
      const series = await s.series(query({ from: 0, to: 60, maxPoints: 6 }));
      expect(series.timeMs.map((ms) => ms / 1000 - BEGIN_S)).toEqual([15, 55]);
      expect(series).toMatchObject({ value: [1, null], minimum: [1, null], count: [1, 1], flagged: [0, 1] });
    });

    it('does not depend on the order in which readings came', async () => {
      const [forward, backward] = [await store(), await store()];
      const readings = numbers(0, 4000).map((k) => madeReading(k, velocity(k)));
      for (let at = 0; at < 4000; at += 333) await forward.commit(readings.slice(at, at + 333), at);
      const reversed = [...readings].reverse();
      for (let at = 0; at < 4000; at += 271) await backward.commit(reversed.slice(at, at + 271), at);
      for (const points of [2, 30, 4000]) {
        const ask = query({ from: 0, to: 7200, maxPoints: points });
        expect(await backward.series(ask)).toEqual(await forward.series(ask));
      }
    });

    it('has no points for an axis or sensor that is not there', async () => {
      const s = await filled();
      expect((await s.series(query({ from: 0, to: 60, axis: 'z' }))).timeMs).toEqual([]);
      const other = { nodeId: NODE, sensor: 9 };
      expect((await s.series(query({ from: 0, to: 60, sensor: other }))).timeMs).toEqual([]);
    });

    it('refuses a span that ends before it begins, and no points', async () => {
      const s = await store();
      await expect(s.series(query({ from: 60, to: 0 }))).rejects.toThrow(/ends after it begins/);
      await expect(s.series(query({ from: 0, to: 60, maxPoints: 0 }))).rejects.toThrow(/1 or more points/);
    });
  });
}
