/** Steps of the system clock above this are followed; below it, its millisecond rounding is smoothed out. */
const FOLLOW_US = 1500;

/** Unix time in whole microseconds: the system clock, carried between its milliseconds by the monotonic clock. */
export function createMicrosecondClock(
  wallMs: () => number = Date.now,
  monotonicMs: () => number = () => performance.now(),
): () => number {
  let offsetUs = wallMs() * 1000 - monotonicMs() * 1000;
  return () => {
    const monotonicUs = monotonicMs() * 1000;
    // Date.now() cuts off: the true time lies up to 1 ms above it.
    const middleUs = wallMs() * 1000 + 500;
    const errorUs = middleUs - (monotonicUs + offsetUs);
    if (Math.abs(errorUs) > FOLLOW_US) offsetUs = middleUs - monotonicUs;
    else offsetUs += errorUs * 0.001;
    return Math.round(monotonicUs + offsetUs);
  };
}
