import { describe, expect, it } from 'vitest';
import { decodeLiveData, decodeLiveDataText } from '../../../collector/vehicle/index.ts';

/** Hand-worked with the formulas of SAE J1979, service 01 (from memory). */
const WORKED: [text: string, quantity: string, value: number, resolution: number][] = [
  ['41 0C 1A F8', 'engineSpeedRpm', 1726, 0.25], // (256 x 26 + 248) / 4
  ['41 0C 00 00', 'engineSpeedRpm', 0, 0.25],
  ['41 0C FF FF', 'engineSpeedRpm', 16_383.75, 0.25],
  ['41 0D 50', 'roadSpeedKmH', 80, 1],
  ['410dff', 'roadSpeedKmH', 255, 1],
  ['41 04 80', 'engineLoadPercent', 50.196078431372548, 100 / 255],
  ['41 05 00', 'coolantTemperatureC', -40, 1],
  ['41 05 82', 'coolantTemperatureC', 90, 1],
];

describe('live data of the vehicle', () => {
  it.each(WORKED)('%s is %s %d', (text, quantity, value, resolution) => {
    const [decoded] = decodeLiveDataText(text);
    expect(decoded!.quantity).toBe(quantity);
    expect(decoded!.value).toBeCloseTo(value, 10);
    expect(decoded!.resolution).toBeCloseTo(resolution, 10);
  });

  it('reads several values from one answer', () => {
    const values = decodeLiveData(Uint8Array.of(0x41, 0x0c, 0x1a, 0xf8, 0x0d, 0x50, 0x05, 0x7b));
    expect(values.map(({ quantity, value }) => [quantity, value])).toEqual([
      ['engineSpeedRpm', 1726],
      ['roadSpeedKmH', 80],
      ['coolantTemperatureC', 83],
    ]);
  });

  it.each([
    ['', /hexadecimal/],
    ['41 0C 1', /hexadecimal/],
    ['NO DATA', /hexadecimal/],
    ['7F 01 12', /refused/],
    ['7E8 04 41 0C', /hexadecimal/],
    ['04 41 0C 1A F8', /byte 1 is 04.*begins with 41/],
    ['41', /parameter number is missing/],
    ['41 0C 1A', /0C needs 2 byte\(s\), the answer holds 1/],
    ['41 0D 50 2F 10', /byte 4 is parameter 2F/],
  ])('refuses "%s" and says why', (text, message) => {
    expect(() => decodeLiveDataText(text)).toThrow(message);
  });

  it('refuses an empty answer', () => {
    expect(() => decodeLiveData(new Uint8Array())).toThrow(/empty/);
  });
});
