/** Which seconds of a run a report shows and plays. Pure. */
import type { CompareResult } from '../../contract/inquiries.ts';
import type { Span } from './data.ts';

export interface Moments {
  /** Longest stretch of marked seconds; all seconds count as marked where nothing was. */
  noise: Span;
  quiet: Span | null;
  marked: boolean;
}

interface Mark {
  atMs: number;
  endMs: number | null;
}

const MOST_MS = 5_000;
const LEAST_MS = 1_000;
/** Without a comparison, around a single press. People press when they have heard it. */
const BEFORE_PRESS_MS = 4_000;

/** The seconds that were compared, where they were; else those of the first mark, else the middle of the run. */
export function momentsOf(run: Span, marks: readonly Mark[], comparison: CompareResult | null): Moments {
  if (comparison !== null) {
    const { seconds, comparison: found } = comparison;
    const at = (windows: readonly number[]) => windows.map((window) => seconds[window]!);
    const noise = longest(at(found.windows));
    if (noise !== null)
      return {
        noise,
        quiet: longest(at(found.quietWindows)),
        marked: found.quietWindows.length > 0 || (marks.length > 0 && !comparison.request.ignoreMarks),
      };
  }
  const mark = marks[0];
  if (mark !== undefined) {
    const fromMs = mark.endMs === null ? mark.atMs - BEFORE_PRESS_MS : mark.atMs;
    const toMs = mark.endMs === null ? mark.atMs + LEAST_MS : Math.max(mark.endMs, mark.atMs + LEAST_MS);
    return {
      noise: within({ fromMs, toMs: Math.min(toMs, fromMs + MOST_MS) }, run),
      quiet: null,
      marked: true,
    };
  }
  const middle = (run.fromMs + run.toMs) / 2;
  const half = Math.min(MOST_MS, run.toMs - run.fromMs) / 2;
  return { noise: { fromMs: middle - half, toMs: middle + half }, quiet: null, marked: false };
}

/** Longest row of seconds without one missing, cut in its middle to what a report plays. */
function longest(seconds: readonly number[]): Span | null {
  let best: Span | null = null;
  let from = 0;
  const sorted = [...new Set(seconds)].sort((a, b) => a - b);
  sorted.forEach((second, k) => {
    if (k > 0 && second !== sorted[k - 1]! + 1) from = k;
    const span = { fromMs: 1000 * sorted[from]!, toMs: 1000 * (second + 1) };
    if (best === null || span.toMs - span.fromMs > best.toMs - best.fromMs) best = span;
  });
  if (best === null) return null;
  const { fromMs, toMs }: Span = best;
  const spare = Math.max(0, toMs - fromMs - MOST_MS);
  return { fromMs: fromMs + spare / 2, toMs: toMs - spare / 2 };
}

/** Some seconds before and after, as far as the run goes: a picture shows how the noise comes and goes. */
export function around(span: Span, run: Span, marginMs: number): Span {
  return within({ fromMs: span.fromMs - marginMs, toMs: span.toMs + marginMs }, run);
}

function within({ fromMs, toMs }: Span, run: Span): Span {
  return { fromMs: Math.max(fromMs, run.fromMs), toMs: Math.min(toMs, run.toMs) };
}
