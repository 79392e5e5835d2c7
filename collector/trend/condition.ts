/** Under which condition a reading was taken, and which readings may be compared with each other. */

export interface Condition {
  speedKmH?: number | null;
  shaftRpm?: number | null;
  loadPercent?: number | null;
  /** "3", "D", "reverse" ... */
  gear?: string | null;
  /** Guided manoeuvre, e.g. "coast-down". */
  manoeuvre?: string | null;
}

/**
 * How finely conditions are told apart. A step of null leaves the quantity out. What is told apart must be known:
 * a reading without it belongs to no bin, because it might have been taken under any.
 */
export interface BinScheme {
  speedStepKmH: number | null;
  shaftStepRpm: number | null;
  loadStepPercent: number | null;
  gear: boolean;
  manoeuvre: boolean;
}

/** Road vehicles: bands of 10 km/h, load in quarters, every gear for itself. Common practice, no source. */
export const ROAD_BINS: BinScheme = {
  speedStepKmH: 10,
  shaftStepRpm: null,
  loadStepPercent: 25,
  gear: true,
  manoeuvre: false,
};

/** A machine that always runs the same way: one bin. */
export const STEADY_BIN: BinScheme = {
  speedStepKmH: null,
  shaftStepRpm: null,
  loadStepPercent: null,
  gear: false,
  manoeuvre: false,
};

/**
 * Name of the bin a condition falls in, e.g. "50-60 km/h, load 25-50 %, gear 3"; "any" when nothing is told apart.
 * Null when a quantity that is told apart is not known.
 */
export function conditionBin(condition: Condition, scheme: BinScheme): string | null {
  const parts: (string | null)[] = [
    band(condition.speedKmH, scheme.speedStepKmH, (from, to) => `${from}-${to} km/h`),
    band(condition.shaftRpm, scheme.shaftStepRpm, (from, to) => `${from}-${to} rpm`),
    band(condition.loadPercent, scheme.loadStepPercent, (from, to) => `load ${from}-${to} %`),
    scheme.gear ? word(condition.gear, 'gear ') : '',
    scheme.manoeuvre ? word(condition.manoeuvre, '') : '',
  ];
  if (parts.includes(null)) return null;
  return parts.filter((part) => part !== '').join(', ') || 'any';
}

function band(
  value: number | null | undefined,
  step: number | null,
  name: (from: number, to: number) => string,
): string | null {
  if (step === null) return '';
  if (value === null || value === undefined || !Number.isFinite(value)) return null;
  const from = Math.floor(value / step) * step;
  return name(from, from + step);
}

function word(value: string | null | undefined, before: string): string | null {
  return value === null || value === undefined || value === '' ? null : before + value;
}

/** Something after which levels may step although nothing wore: levels before and after are not compared. */
export interface StretchBreak {
  timeMs: number;
  reason: 'mount-moved' | 'node-changed' | 'sensor-changed' | 'new-tyre' | 'repair' | 'oil-change' | 'other';
}

/** Number of the stretch an instant belongs to: 0 before the first break, one more at each break. */
export function stretchAt(timeMs: number, breaks: readonly StretchBreak[]): number {
  return breaks.filter((entry) => entry.timeMs <= timeMs).length;
}

/** Part of a baseline's level below which a machine cannot be running as it did: 12 dB. Common practice, no source. */
const STANDING_SHARE = 0.25;

/**
 * Was the machine running as it did for its baseline? A level a quarter of the normal one or less means that it stood
 * still, or that the sensor fell off: such a run says nothing about wear, neither good nor bad.
 */
export function wasRunning(value: number, baselineMedian: number): boolean {
  return value > STANDING_SHARE * baselineMedian;
}
