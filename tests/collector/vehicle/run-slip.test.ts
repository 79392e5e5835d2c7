import { describe, expect, it } from 'vitest';
import { runSlip } from '../../../collector/vehicle/index.ts';

/** One value every 200 ms over `seconds`, told in steps of `step`. */
function told(quantity: string, valueAt: (t: number) => number, step: number, seconds = 60, lagMs = 0) {
  const atMs = Array.from({ length: 5 * seconds }, (_, i) => 1_700_000_000_000 + 200 * i + lagMs);
  const value = atMs.map((_, i) => step * Math.round(valueAt(i / 5) / step));
  return { quantity, atMs, value };
}
const GEARS: Record<string, number> = { '3': 1.48, '4': 1 };
const ratioIn = (gear: string) => GEARS[gear] ?? null;
const ask = (series: ReturnType<typeof told>[], more = {}) =>
  runSlip({ told: series, converter: 'locked', ratioIn, ...more });

/** By hand: engine 2000 to 2100 rpm, 35 rpm before the turbine; output = turbine / 1.48. */
const turbine = (t: number) => 2050 + 50 * Math.sin(t / 5);
const drive = (clutchSlipRpm: number) => [
  told('engineSpeedRpm', (t) => turbine(t) + 35, 0.25),
  told('turbineSpeedRpm', turbine, 1),
  told('outputSpeedRpm', (t) => (turbine(t) - clutchSlipRpm) / 1.48, 1),
  told('gear', () => 3, 1),
];

describe('slip over a run', () => {
  it('of a converter that is said to be locked, 35 rpm by hand', () => {
    const { converter } = ask(drive(0));
    expect(Math.abs(converter.slipRpm! - 35)).toBeLessThan(converter.uncertaintyRpm!);
    // 10 rpm/s at most, read up to 0.1 s apart: below 2 rpm with steps of 0.25 and 1.
    expect(converter.uncertaintyRpm).toBeLessThan(2);
    expect(converter.against).toBe('outside');
    expect(converter.sentence).toMatch(
      /^The engine turns 35 ± [12] rpm \(1\.7 %\) faster than the turbine, middle of 300 moments.*outside.*common practice, no source/,
    );
  });

  it('of clutches by the gear told: 0 and 60 rpm by hand', () => {
    const sound = ask(drive(0)).clutch;
    expect(Math.abs(sound.slipRpm!)).toBeLessThan(sound.uncertaintyRpm!);
    expect(sound.against).toBe('within');
    const slipping = ask(drive(60)).clutch;
    expect(Math.abs(slipping.slipRpm! - 60)).toBeLessThan(slipping.uncertaintyRpm!);
    expect(slipping.against).toBe('outside');
  });

  it('leaves out the seconds around a change of gear, when clutches slip because they must', () => {
    const shift = (t: number) => (t < 30 ? 3 : 4);
    const output = (t: number) => turbine(t) / (t < 30 ? 1.48 : 1);
    const clutch = ask([
      told('turbineSpeedRpm', turbine, 1),
      // The gear is told to have changed half a second before the speeds have followed.
      told('outputSpeedRpm', (t) => (t > 29.4 && t < 30 ? output(30) : output(t)), 1),
      told('gear', shift, 1),
    ]).clutch;
    expect(clutch.against).toBe('within');
    expect(clutch.moments).toBeLessThanOrEqual(clutch.of - 14);
    expect(Math.max(...clutch.rangeRpm!.map(Math.abs))).toBeLessThan(5);
  });

  it('takes a stated ratio, and the engine where there is no turbine', () => {
    const [engine, , output] = drive(0);
    const { converter, clutch } = ask([engine!, output!], { gearRatio: 1.48 });
    expect(converter.sentence).toBe('Cannot say: the vehicle told no turbine speed.');
    expect(clutch).toMatchObject({ driving: 'engine', driven: 'output' });
    expect(Math.abs(clutch.slipRpm! - 35)).toBeLessThan(clutch.uncertaintyRpm!);
  });

  it('cannot say without speeds, without a ratio, with steps too coarse, or with speeds told at other times', () => {
    const [engine, turbineTold, output] = drive(0);
    expect(ask([engine!]).clutch.sentence).toMatch(
      /no output speed; road speed in whole km\/h is too coarse/,
    );
    expect(ask([turbineTold!, output!]).clutch.sentence).toMatch(/ratio of the gear is not known/);
    const coarse = told('turbineSpeedRpm', (t) => 1500 + 20 * t, 64);
    expect(ask([told('engineSpeedRpm', (t) => 1500 + 20 * t, 0.25), coarse]).converter.sentence).toMatch(
      /known to 3\d rpm only/,
    );
    expect(ask([engine!, told('turbineSpeedRpm', turbine, 1, 60, 100_000)]).converter.sentence).toMatch(
      /never told within a second of each other/,
    );
  });

  it('says slower where the vehicle drives the engine', () => {
    const series = [
      told('engineSpeedRpm', (t) => turbine(t) - 30, 0.25),
      told('turbineSpeedRpm', turbine, 1),
    ];
    const { converter } = ask(series, { converter: 'open' });
    expect(converter.slipRpm).toBeCloseTo(-30, 0);
    expect(converter.sentence).toMatch(/30 ± \d rpm \(1\.5 %\) slower than the turbine/);
  });
});
