import { describe, expect, it } from 'vitest';
import { createMicrosecondClock } from '../../broker/clock.ts';

/** A computer whose true time goes on by `step`; the system clock shows whole milliseconds, as Date.now() does. */
function computer() {
  const state = { trueUs: 1_790_000_000_123_456, wallOffsetUs: 0 };
  const now = createMicrosecondClock(
    () => Math.floor((state.trueUs + state.wallOffsetUs) / 1000),
    () => (state.trueUs - 1_789_999_000_000_000) / 1000,
  );
  return { state, now };
}

describe('the microsecond clock', () => {
  it('stays within a millisecond of the system clock and never goes back while that does not', () => {
    const { state, now } = computer();
    let last = 0;
    for (let i = 0; i < 20_000; i++) {
      state.trueUs += 37 + (i % 400);
      const us = now();
      expect(us).toBeGreaterThanOrEqual(last);
      expect(Math.abs(us - state.trueUs)).toBeLessThan(1500);
      last = us;
    }
    // Once settled, better than the system clock's own millisecond.
    expect(Math.abs(last - state.trueUs)).toBeLessThan(300);
  });

  it('measures short times to the microsecond', () => {
    const { state, now } = computer();
    for (let i = 0; i < 5000; i++) {
      state.trueUs += 900;
      now();
    }
    const before = now();
    state.trueUs += 250;
    expect(Math.abs(now() - before - 250)).toBeLessThanOrEqual(2);
  });

  it('follows when the system clock is set', () => {
    const { state, now } = computer();
    now();
    state.wallOffsetUs = -3_600_000_000;
    expect(Math.abs(now() - (state.trueUs - 3_600_000_000))).toBeLessThan(1500);
    state.wallOffsetUs = 5_000_000;
    expect(Math.abs(now() - (state.trueUs + 5_000_000))).toBeLessThan(1500);
  });
});
