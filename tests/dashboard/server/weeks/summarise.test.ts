import { describe, expect, it } from 'vitest';
import { conditionsOf } from '../../../../dashboard/server/weeks/conditions.ts';
import { instantOf, summariseDay, summariseRun } from '../../../../dashboard/server/weeks/summarise.ts';
import { reading } from '../stored-readings.ts';
import { NODE_A, NOON_MS } from '../support.ts';

const at = (second: number) => NOON_MS + 1000 * second;
const seconds = (from: number, to: number, velocity: number) =>
  Array.from({ length: to - from }, (_, k) => reading(NODE_A, 0, at(from + k), velocity));
const said = (quantity: 'roadSpeedKmH' | 'gear', values: [number, number][]) => ({
  quantity,
  atMs: values.map(([second]) => at(second)),
  value: values.map(([, value]) => value),
});
const every = (from: number, to: number, value: number): [number, number][] =>
  Array.from({ length: to - from }, (_, k) => [from + k, value]);

describe('conditions of a run', () => {
  it('are told apart by what the vehicle said in it, while a value holds', () => {
    const vehicle = [said('gear', every(0, 60, 4)), said('roadSpeedKmH', every(0, 30, 54))];
    const conditionAt = conditionsOf({ kind: 'road', vehicle, manoeuvres: [] });
    expect(conditionAt(at(10))).toBe('50-60 km/h, gear 4');
    // The last speed was said at 29 s; after two and a half seconds nobody knows.
    expect(conditionAt(at(31))).toBe('50-60 km/h, gear 4');
    expect(conditionAt(at(35))).toBeNull();
    expect(conditionAt(at(-5))).toBeNull();
  });

  it('are manoeuvres where no speed is known, and nothing where neither is', () => {
    const manoeuvre = { id: 1, manoeuvre: 'steady-cruise' as const, noise: null, pitch: null };
    const manoeuvres = [{ ...manoeuvre, startMs: at(5), endMs: at(20) }];
    const guided = conditionsOf({ kind: 'lift', vehicle: [], manoeuvres });
    expect(guided(at(10))).toBe('lift, steady-cruise');
    expect(guided(at(30))).toBeNull();
    expect(conditionsOf({ kind: 'road', vehicle: [], manoeuvres: [] })(at(10))).toBeNull();
    expect(conditionsOf({ kind: 'bench', vehicle: [], manoeuvres: [] })(at(10))).toBe('bench, any');
  });
});

describe('what a run came to', () => {
  const place = { locationId: 3, runId: 7 };

  it('is a level for each condition that lasted, all with the time of the run', () => {
    const readings = [...seconds(0, 20, 1), ...seconds(20, 24, 2), ...seconds(24, 44, 3)];
    const binOf = (startMs: number) => (startMs < at(20) ? 'slow' : startMs < at(24) ? 'between' : 'fast');
    const levels = summariseRun(place, readings.map(instantOf), binOf);
    expect(levels.map(({ bin, readings: count }) => [bin, count])).toEqual([
      ['slow', 20],
      ['fast', 20],
    ]);
    expect(levels.map(({ summaries }) => summaries.velocityRmsMmPerS.median)).toEqual([1, 3]);
    expect(new Set(levels.map(({ fromMs }) => fromMs))).toEqual(new Set([at(0)]));
  });

  it('leaves flagged seconds out, and refuses a run with too many of them', () => {
    const good = seconds(0, 15, 1).map(instantOf);
    const clipped = seconds(15, 30, 9).map((one) => instantOf({ ...one, flags: ['clipped'] }));
    const [few] = summariseRun(place, [...good, ...clipped.slice(0, 5)], () => 'any');
    expect(few!.summaries.velocityRmsMmPerS).toMatchObject({ median: 1, used: 15, refused: null });
    const [many] = summariseRun(place, [...good, ...clipped], () => 'any');
    expect(many!.summaries.velocityRmsMmPerS).toMatchObject({ median: 1, refused: 'too-many-left-out' });
  });

  it('takes the highest axis of each second', () => {
    const [level] = summariseRun(place, seconds(0, 12, 4).map(instantOf), () => 'any');
    // The x axis has the level, y half of it, z none.
    expect(level!.summaries.velocityRmsMmPerS.median).toBe(4);
  });

  it('of a day is that of the hours it ran, however long it stood', () => {
    const day = [...seconds(0, 300, 0.05), ...seconds(300, 400, 2)].map(instantOf);
    const level = summariseDay(1, day, 400);
    expect(level!.summaries.velocityRmsMmPerS.median).toBe(2);
    expect(level!.readings).toBe(400);
    expect(summariseDay(1, [], 0)).toBeNull();
  });
});
