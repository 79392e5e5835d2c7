import { forecast } from '../../collector/trend/forecast.ts';
import { uniform } from '../../collector/trend/random.ts';
import { quantile } from '../../collector/trend/robust.ts';
import { arrested, LAWS, type Law } from './trend-laws.ts';
import { makeLife } from './trend-lives.ts';

export interface Calibration {
  law: string;
  group: string;
  /** Lives asked about. */
  asked: number;
  /** Ranges given; the others were refused. */
  given: number;
  inside: number;
  /** Truth earlier than the range, and later. */
  earlier: number;
  later: number;
  /** Median of range / time really left. */
  widthShare: number;
  reasons: Record<string, number>;
}

/**
 * Asks for a forecast once in each life, at a random moment between 30 and 95 % of the way from onset to limit (of 400
 * days for lives that never reach it), and compares the range with the truth.
 */
export function calibrate(
  law: Law,
  name: string,
  group: string,
  lives: number,
  firstSeed: number,
): Calibration {
  const moment = uniform(firstSeed);
  const widths: number[] = [];
  const result: Calibration = {
    law: name,
    group,
    asked: 0,
    given: 0,
    inside: 0,
    earlier: 0,
    later: 0,
    widthShare: 0,
    reasons: {},
  };
  for (let seed = firstSeed; result.asked < lives; seed++) {
    const life = makeLife(law, seed);
    if (life === null) continue;
    const end = Number.isFinite(life.truthMs) ? life.truthMs : life.levels.at(-1)!.timeMs;
    const askedMs = life.onsetMs + (0.3 + 0.65 * moment()) * (end - life.onsetMs);
    const levels = life.levels.filter(({ timeMs }) => timeMs <= askedMs);
    result.asked++;
    const answer = forecast({ levels, limit: life.limit, baselineMedian: 1, seed });
    if (answer.kind !== 'range') {
      const reason = answer.kind === 'reached' ? 'reached' : answer.reason;
      result.reasons[reason] = (result.reasons[reason] ?? 0) + 1;
      continue;
    }
    result.given++;
    if (life.truthMs < answer.fromMs) result.earlier++;
    else if (life.truthMs > answer.toMs) result.later++;
    else result.inside++;
    widths.push((answer.toMs - answer.fromMs) / (life.truthMs - levels.at(-1)!.timeMs));
  }
  return { ...result, widthShare: widths.length === 0 ? Number.NaN : quantile(widths, 0.5) };
}

export function calibrateAll(
  livesPerLaw: number,
  firstSeed: number,
  groups = Object.keys(LAWS),
): Calibration[] {
  return groups.flatMap((group) =>
    Object.entries(LAWS[group]!).map(([name, law]) => calibrate(law, name, group, livesPerLaw, firstSeed)),
  );
}

/** Lives that never reach the limit: every range given is wrong, so it is their share that matters. */
export function calibrateArrested(lives: number, firstSeed: number): Calibration {
  return calibrate(arrested, 'arrested', 'never', lives, firstSeed);
}

/** Share of ranges that hold the truth, every law counting alike however many ranges it was given. */
export function coverage(results: readonly Calibration[]): number {
  const given = results.filter((result) => result.given > 0);
  return given.reduce((sum, { inside, given: count }) => sum + inside / count, 0) / given.length;
}

export function calibrationTable(results: readonly Calibration[]): string {
  const percent = (part: number, of: number) => `${((100 * part) / of).toFixed(0)} %`.padStart(6);
  const head = 'group   law          lives  given  inside  earlier  later  width/left  refused because';
  const rows = results.map(
    (r) =>
      `${r.group.padEnd(8)}${r.law.padEnd(12)}${String(r.asked).padStart(6)} ${percent(r.given, r.asked)}  ${percent(r.inside, r.given)}   ${percent(r.earlier, r.given)} ${percent(r.later, r.given)}  ${r.widthShare.toFixed(2).padStart(9)}   ${Object.entries(
        r.reasons,
      )
        .map(([reason, count]) => `${reason} ${count}`)
        .join(', ')}`,
  );
  return [head, ...rows].join('\n');
}
