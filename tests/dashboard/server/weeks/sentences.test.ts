import { describe, expect, it } from 'vitest';
import { forecastSentence } from '../../../../dashboard/server/weeks/sentences.ts';

const at = (day: number) => new Date(2026, 4, day, 12).getTime();
const range = { kind: 'range', fromMs: at(3), middleMs: at(6), toMs: at(10), runs: 30 } as const;

describe('a forecast in words', () => {
  it.each([
    ['ahead', at(1), 'between 3 May 2026 and 10 May 2026 (in four'],
    ['begun', at(5), 'any day now, by 10 May 2026 (in four'],
    ['over, with nothing measured since', at(12), 'was expected to be reached by 10 May 2026 (in four'],
  ])('%s', (_name, nowMs, text) => {
    expect(forecastSentence(range, '2.00 mm/s', nowMs)).toContain(text);
  });

  it('asks for a measurement where its days have passed', () => {
    expect(forecastSentence(range, '2.00 mm/s', at(12))).toMatch(/measure again\.$/);
    expect(forecastSentence(range, '2.00 mm/s', at(9))).not.toContain('measure again');
  });
});
