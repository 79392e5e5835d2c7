import { describe, expect, it } from 'vitest';
import { kindOfWords } from '../../../../dashboard/server/deciding/part-kind.ts';

describe('what a location is, by its name', () => {
  it.each([
    ['Wheel bearing, rear left', 'Rear axle', 'wheel-bearing'],
    ['Left hub', 'Front axle', 'wheel-bearing'],
    ['Pinion bearing', 'Rear axle', 'other'],
    ['Tie rod end', 'Front axle', 'steering'],
    ['Rear left', 'Brake', 'brake'],
    ['Mount', 'Subframe', 'structural'],
    ['Fan wheel', 'Extraction fan', 'other'],
    ['Output bearing', 'Gearbox', 'other'],
  ])('%s of %s: %s', (name, component, kind) => expect(kindOfWords(`${name} ${component}`)).toBe(kind));
});
