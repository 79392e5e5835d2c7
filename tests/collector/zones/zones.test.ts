import { describe, expect, it } from 'vitest';
import {
  MACHINE_CLASSES,
  type MachineClass,
  significantChangeMmPerS,
  zoneLimitsMmPerS,
  zoneOf,
} from '../../../collector/zones/zones.ts';

/** ISO 10816-1 Annex B (from secondary texts) and ISO 10816-3 groups 1 and 2 (from memory). */
const TABLE: [MachineClass, number, number, number][] = [
  ['I', 0.71, 1.8, 4.5],
  ['II', 1.12, 2.8, 7.1],
  ['III', 1.8, 4.5, 11.2],
  ['IV', 2.8, 7.1, 18],
  ['group-1-rigid', 2.3, 4.5, 7.1],
  ['group-1-flexible', 3.5, 7.1, 11],
  ['group-2-rigid', 1.4, 2.8, 4.5],
  ['group-2-flexible', 2.3, 4.5, 7.1],
];

describe('zones', () => {
  it.each(TABLE)('of class %s change at %f, %f and %f mm/s', (machineClass, a, b, c) => {
    const around = [a, b, c].flatMap((limit) => [limit * 0.999, limit, limit * 1.001]);
    expect(around.map((v) => zoneOf(v, machineClass)).join('')).toBe('AABBBCCCD');
    expect(zoneOf(0, machineClass)).toBe('A');
    expect(zoneOf(1000, machineClass)).toBe('D');
    expect(zoneLimitsMmPerS(machineClass)).toEqual([a, b, c]);
  });

  it('the table names every class', () => {
    expect(TABLE.map(([name]) => name)).toEqual(MACHINE_CLASSES);
  });

  it('a change of 25 % of the limit between B and C is significant (from memory)', () => {
    expect(significantChangeMmPerS('I')).toBeCloseTo(0.45, 10);
    expect(significantChangeMmPerS('IV')).toBeCloseTo(1.775, 10);
  });

  it('a value that is no level has no zone', () => {
    for (const value of [-1, Number.NaN]) expect(() => zoneOf(value, 'I')).toThrow(RangeError);
  });
});
