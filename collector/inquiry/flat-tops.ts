import type { Span } from '../capture/capture.ts';

/** Samples in a row at the end of the digital range that count as cut off: one alone may be a peak that just fits. */
const LEAST_RUN = 3;
/** The end of the range, of 32768, for PCM of 16 bits and more. */
const RAIL = 32_766.5;
/** Runs closer than this are one span. */
const JOINED_MS = 100;

/** Where PCM samples (32768 = full scale) of any axis stand at the end of their range. */
export function flatTops(axes: readonly ArrayLike<number>[], startMs: number, sampleRateHz: number): Span[] {
  const runs: Span[] = [];
  for (const samples of axes) {
    let run = 0;
    for (let i = 0; i <= samples.length; i++) {
      if (i < samples.length && Math.abs(samples[i]!) >= RAIL) {
        run++;
        continue;
      }
      if (run >= LEAST_RUN) {
        const [fromMs, toMs] = [i - run, i].map((k) => startMs + (1000 * k) / sampleRateHz);
        const last = runs.at(-1);
        if (last !== undefined && fromMs! >= last.fromMs && fromMs! - last.toMs < JOINED_MS)
          last.toMs = toMs!;
        else runs.push({ fromMs: fromMs!, toMs: toMs! });
      }
      run = 0;
    }
  }
  return runs;
}
