import { describe, expect, it } from 'vitest';
import type { FindingRecord } from '../../../../dashboard/contract/drive-train.ts';
import type { CompareResult } from '../../../../dashboard/contract/inquiries.ts';
import type { LocationTrend } from '../../../../dashboard/contract/weeks.ts';
import {
  type HeadlineFacts,
  type HeadlinePlace,
  headline,
} from '../../../../dashboard/server/report/headline.ts';

const verdict = (kind: 'leads' | 'not-clear', sentence: string, text: string | null = null) =>
  ({
    comparison: { verdict: { kind, sentence, nextMeasurement: text === null ? null : { code: 'x', text } } },
  }) as unknown as CompareResult;
const LEADS = verdict(
  'leads',
  'Left wheel bearing of the rear axle leads at 400-900 Hz by 6.2 ± 1.1 dB in 18 of 20 windows; what the case shows there is coherent with it (0.92), so likely carried over.',
);
const PART = { verdict: 'inner', bearing: '6205' } as FindingRecord;
const CHANGED = {
  alerts: [{ about: 'change', raised: true }],
  sentences: ['The last three runs lie at 2.1 times the baseline: more than the own scatter explains.'],
} as unknown as LocationTrend;
const CAUTION = 'Do not put this off.';
const place = (more: Partial<HeadlinePlace> = {}): HeadlinePlace => ({
  label: 'left wheel bearing of the rear axle',
  look: null,
  trend: null,
  caution: null,
  ...more,
});
const facts = (more: Partial<HeadlineFacts> = {}): HeadlineFacts => ({
  outcome: null,
  comparison: null,
  comparisonMissing: null,
  suspect: null,
  locations: 3,
  nextDueMs: null,
  ...more,
});

describe('the sentence at the head of a report', () => {
  it('names the location that leads with its support, and the part that stands out there', () => {
    const { result, next, safety } = headline(
      facts({ comparison: LEADS, suspect: place({ look: PART, caution: CAUTION }) }),
    );
    expect(result).toBe(
      'The noise most likely comes from the left wheel bearing of the rear axle: it leads at 400-900 Hz by 6.2 ± 1.1 dB in 18 of 20 windows. Inner race of bearing 6205 stands out at the left wheel bearing of the rear axle.',
    );
    expect(next).toMatch(/^Inspect the left wheel bearing of the rear axle before anything is replaced/);
    expect(safety).toBe(CAUTION);
  });

  it('says "not clear" with its reason, and what would settle it as the next thing to do', () => {
    const sentence =
      'Not clear: only 3 windows can be compared; the noise stands out of the background at no location. To settle it, record at least 20 s.';
    const { result, next } = headline(
      facts({ comparison: verdict('not-clear', sentence, 'record at least 20 s') }),
    );
    expect(result).toBe('Not clear which location makes the noise: only 3 windows can be compared.');
    expect(next).toBe('Record at least 20 s.');
  });

  it('says what weeks have shown where one run leaves it open', () => {
    const comparison = verdict(
      'not-clear',
      'Not clear: only 3 windows can be compared. To settle it, record at least 20 s.',
      'record at least 20 s',
    );
    const told = headline(facts({ comparison, suspect: place({ trend: CHANGED, caution: CAUTION }) }));
    expect(told.result).toBe(
      'Not clear which location makes the noise: only 3 windows can be compared. Left wheel bearing of the rear axle: the last three runs lie at 2.1 times the baseline: more than the own scatter explains.',
    );
    expect(told.next).toBe(
      'Record at least 20 s. Look for the cause of the rise at the left wheel bearing of the rear axle.',
    );
    expect(told.safety).toBe(CAUTION);
  });

  it('accuses nothing, and warns of nothing, when the noise did not come', () => {
    const told = headline(
      facts({ outcome: 'could-not-reproduce', comparison: LEADS, suspect: place({ caution: CAUTION }) }),
    );
    expect(told.result).toMatch(/^The noise did not come/);
    expect(told.safety).toBeNull();
  });

  it('falls back to what changed over weeks, then to why no location can be named', () => {
    const changed = headline(facts({ suspect: place({ trend: CHANGED, caution: CAUTION }) }));
    expect(changed.result).toMatch(
      /^Left wheel bearing of the rear axle: the last three runs lie at 2\.1 times/,
    );
    expect(changed.safety).toBe(CAUTION);
    expect(headline(facts({ comparisonMissing: 'No raw samples are there for this.' })).result).toBe(
      'No location can be named in this run: no raw samples are there for this.',
    );
    expect(headline(facts()).result).toMatch(/^Nothing has changed .* at any of the 3 locations watched\.$/);
  });

  it('does not warn of a part that nothing points to', () => {
    expect(headline(facts({ suspect: place({ caution: CAUTION }) })).safety).toBeNull();
  });

  it('gives the date of a watch plan', () => {
    const { next } = headline(facts({ nextDueMs: new Date(2027, 0, 5).getTime() }));
    expect(next).toBe('The watch plan says to measure again by 5 January 2027.');
  });
});
