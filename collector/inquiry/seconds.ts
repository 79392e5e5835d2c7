/** Which whole seconds of a run are compared. Pure. */
import type { Span } from '../capture/capture.ts';

export interface Mark {
  atMs: number;
  /** Null for a single press. */
  endMs: number | null;
}

/** A value over time, in steps: each holds until the next. */
export interface Condition {
  quantity: string;
  atMs: readonly number[];
  value: readonly number[];
}

export interface SecondsQuestion {
  span: Span;
  marks: readonly Mark[];
  /** Road speed, engine speed, load, gear: what must be alike. */
  conditions: readonly Condition[];
  /** Most seconds of either kind, for memory's sake. */
  most: number;
}

export interface ChosenSeconds {
  /** Unix seconds. */
  noise: number[];
  quiet: number[];
  /** Without marks every second counts as noise. */
  marked: boolean;
  /** What was left out, and why, in words. */
  notes: string[];
}

/** People press when they have heard it: the noise began some time before. Common practice, no source. */
const BEFORE_PRESS_MS = 2_000;
const AFTER_PRESS_MS = 500;
const BEFORE_HELD_MS = 1_000;
/** Seconds this close to a mark are neither: nobody knows when the noise really ended. */
const BETWEEN_MS = 4_000;
/** Speeds and loads within the noise seconds' own range, widened by this, are alike. */
const ALIKE_SHARE = 0.1;
/** A value older than this says nothing of the second. */
const VALUE_HOLDS_MS = 5_000;
const COMPARED_CONDITIONS = ['roadSpeedKmH', 'engineSpeedRpm', 'gear'];

export function chooseSeconds({ span, marks, conditions, most }: SecondsQuestion): ChosenSeconds {
  const all = wholeSeconds(span);
  const inside = marks.filter(({ atMs }) => atMs >= span.fromMs && atMs < span.toMs + BEFORE_PRESS_MS);
  if (inside.length === 0) {
    return {
      noise: thin(all, most),
      quiet: [],
      marked: false,
      notes: ['No second is marked as noise, so all of them are compared as they are.'],
    };
  }
  const spans = inside.map(noiseSpan);
  const noise = all.filter((s) => spans.some((one) => overlap(one, s) >= 500));
  const calm = all.filter((s) => spans.every((one) => overlap(widened(one), s) === 0));
  const { alike, notes } = alikeSeconds(noise, calm, conditions);
  return { noise: thin(noise, most), quiet: thin(alike, most), marked: true, notes };
}

function noiseSpan({ atMs, endMs }: Mark): Span {
  return endMs === null
    ? { fromMs: atMs - BEFORE_PRESS_MS, toMs: atMs + AFTER_PRESS_MS }
    : { fromMs: atMs - BEFORE_HELD_MS, toMs: Math.max(endMs, atMs + AFTER_PRESS_MS) };
}

const widened = ({ fromMs, toMs }: Span): Span => ({ fromMs: fromMs - BETWEEN_MS, toMs: toMs + BETWEEN_MS });

/** Milliseconds of second `s` inside the span. */
function overlap({ fromMs, toMs }: Span, s: number): number {
  return Math.max(0, Math.min(toMs, 1000 * (s + 1)) - Math.max(fromMs, 1000 * s));
}

/** The quiet seconds whose speed and gear the noise seconds had too. */
function alikeSeconds(noise: readonly number[], quiet: readonly number[], conditions: readonly Condition[]) {
  const notes: string[] = [];
  let alike = [...quiet];
  const known = COMPARED_CONDITIONS.flatMap((quantity) =>
    conditions.filter((one) => one.quantity === quantity),
  );
  for (const condition of known) {
    const values = noise.map((s) => valueAt(condition, s)).filter((value) => value !== null);
    if (values.length === 0) continue;
    const low = Math.min(...values);
    const high = Math.max(...values);
    const slack = ALIKE_SHARE * Math.max(Math.abs(low), Math.abs(high));
    alike = alike.filter((s) => {
      const value = valueAt(condition, s);
      return value !== null && value >= low - slack && value <= high + slack;
    });
  }
  if (known.length === 0) {
    notes.push('Speed and gear are not known: noise and quiet seconds may differ by the drive alone.');
  } else if (alike.length < quiet.length) {
    notes.push(
      `${quiet.length - alike.length} quiet seconds were left out: they had another speed or gear than the noise.`,
    );
  }
  return { alike, notes };
}

/** Value in force in the middle of a second; null when none is fresh. */
export function valueAt({ atMs, value }: Condition, second: number): number | null {
  const wanted = 1000 * second + 500;
  let low = 0;
  let high = atMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (atMs[middle]! <= wanted) low = middle + 1;
    else high = middle;
  }
  return low === 0 || wanted - atMs[low - 1]! > VALUE_HOLDS_MS ? null : value[low - 1]!;
}

/** Unix seconds that lie whole in a span, evenly spread when there are more than `most`. */
export function wholeSeconds({ fromMs, toMs }: Span, most = Number.POSITIVE_INFINITY): number[] {
  const first = Math.ceil(fromMs / 1000);
  const last = Math.floor(toMs / 1000);
  return thin(
    Array.from({ length: Math.max(0, last - first) }, (_, i) => first + i),
    most,
  );
}

/** Evenly spread when there are too many. */
export function thin(seconds: readonly number[], most: number): number[] {
  if (seconds.length <= most) return [...seconds];
  return Array.from({ length: most }, (_, i) => seconds[Math.floor((i * seconds.length) / most)]!);
}

/** The seconds as spans, neighbours joined. */
export function spansOf(seconds: readonly number[]): Span[] {
  const spans: Span[] = [];
  for (const s of [...new Set(seconds)].sort((a, b) => a - b)) {
    const last = spans.at(-1);
    if (last !== undefined && last.toMs === 1000 * s) last.toMs += 1000;
    else spans.push({ fromMs: 1000 * s, toMs: 1000 * (s + 1) });
  }
  return spans;
}
