import { trend } from '../../../collector/index.ts';
import type { RepairResult } from '../../contract/repair-checks.ts';
import type { RepairCheckRecord } from '../records/repair-checks.ts';
import type { PlacedRun, PlacedRuns } from '../weeks/placed-levels.ts';
import { level } from '../weeks/words.ts';
import { nearest, type RepairSides, repairSides } from './repair-sides.ts';

/**
 * Runs needed on each side in one condition. With three, the interval holds the truth in 87 of 100 simulated repairs only;
 * from four on, and with three in each of two conditions, in 93 to 97.
 */
const LEAST_RUNS = 4;
const LEAST_RUNS_OF_TWO = 3;

type Asked = Pick<RepairCheckRecord, 'leastFallDb' | 'statedMs' | 'repairedMs' | 'sensorPutBack' | 'runs'>;

/**
 * Passed when all of the 95 % interval of the change lies beyond the criterion, not passed when all of it lies short of
 * it; else nothing is said, and what is missing is.
 */
export function repairResult(check: Asked, placed: PlacedRuns, isVehicle: boolean): RepairResult {
  const { repairedMs, runs } = check;
  if (repairedMs === null) return unsaid([], true, 'the repair has not been noted yet.');
  const sides = repairSides(placed, repairedMs);
  const before = nearest(pick(sides.before, runs.before), 'last');
  const after = nearest(pick(sides.after, runs.after), 'first');
  const bins = countBins(before, after);
  const statedBeforehand = after.every(({ timeMs }) => timeMs >= check.statedMs);
  const late = statedBeforehand ? '' : ' The criterion was stated after runs that it is judged by.';
  const missing = missingOf(sides, check, bins, isVehicle);
  if (missing !== null) return unsaid(bins, statedBeforehand, `${missing}${late}`);

  const found = trend.matchedComparison(before, after, { acrossBreak: true });
  if (found.kind !== 'compared') return unsaid(bins, statedBeforehand, `the runs cannot be compared.${late}`);
  const { changeDb, lowDb, highDb } = found;
  const verdict =
    highDb <= -check.leastFallDb ? 'passed' : lowDb > -check.leastFallDb ? 'not-passed' : 'cannot-say';
  const by = new Map(found.bins.map((entry) => [entry.bin, entry.changeDb]));
  return {
    verdict,
    changeDb,
    lowDb,
    highDb,
    bins: bins.map((entry) => ({ ...entry, changeDb: by.get(entry.bin) ?? null })),
    statedBeforehand,
    sentence: `${changeWords(found)}${handWords(check, isVehicle)}: ${VERDICT[verdict](`${level(check.leastFallDb)} dB`)}${late}`,
  };
}

const VERDICT = {
  passed: (asked: string) => `passed, at least ${asked} lower was asked for.`,
  'not-passed': (asked: string) => `not passed, at least ${asked} lower was asked for.`,
  'cannot-say': (asked: string) =>
    `cannot say yet, the ${asked} asked for lie within that range; more runs narrow it.`,
};

/** "Lower by 7.1 ± 1.2 dB in matched conditions (50-60 km/h; 12 runs before, 5 after)". */
function changeWords(found: Extract<trend.MatchedComparison, { kind: 'compared' }>): string {
  const { changeDb, lowDb, highDb, bins } = found;
  // The wider half stands for both, so that the words never claim more than the interval.
  const half = Math.max(changeDb - lowDb, highDb - changeDb);
  const size = Math.abs(changeDb).toFixed(1);
  const count = (side: 'before' | 'after') => bins.reduce((sum, entry) => sum + entry[side], 0);
  const names = bins.map(({ bin }) => bin).filter((bin) => bin !== 'any');
  const where = names.length === 0 ? '' : `${names.join('; ')}; `;
  return `${changeDb <= 0 ? 'Lower' : 'Higher'} by ${size} ± ${half.toFixed(1)} dB in matched conditions (${where}${count('before')} before, ${count('after')} after)`;
}

function handWords({ runs, sensorPutBack }: Asked, isVehicle: boolean): string {
  const chosen = isVehicle && (runs.before !== null || runs.after !== null) ? ', runs chosen by hand' : '';
  return `${chosen}${sensorPutBack ? ', the sensor put back at its marked spot' : ''}`;
}

function pick(side: readonly PlacedRun[], chosen: readonly number[] | null): PlacedRun[] {
  return chosen === null ? [...side] : side.filter(({ runId }) => runId === null || chosen.includes(runId));
}

function countBins(before: readonly PlacedRun[], after: readonly PlacedRun[]): RepairResult['bins'] {
  const names = [...new Set([...before, ...after].map(({ bin }) => bin))];
  const of = (side: readonly PlacedRun[], name: string) => side.filter(({ bin }) => bin === name).length;
  return names
    .map((bin) => ({ bin, before: of(before, bin), after: of(after, bin), changeDb: null }))
    .sort((a, b) => Math.min(b.before, b.after) - Math.min(a.before, a.after) || b.before - a.before);
}

function missingOf(
  { mountChanged }: RepairSides,
  { sensorPutBack }: Asked,
  bins: RepairResult['bins'],
  isVehicle: boolean,
): string | null {
  const one = isVehicle ? 'runs' : 'days';
  const best = bins[0];
  if (best === undefined) return `no ${one} lie on either side of the repair.`;
  const common = bins.filter((entry) => Math.min(entry.before, entry.after) >= LEAST_RUNS_OF_TWO);
  if (Math.min(best.before, best.after) < LEAST_RUNS && common.length < 2) {
    const of = best.bin === 'any' ? 'there are' : `${best.bin} has`;
    const two = best.bin === 'any' ? '' : `, or ${LEAST_RUNS_OF_TWO} in each of two`;
    return `${LEAST_RUNS} ${one} on each side in one condition are needed${two}; ${of} ${best.before} before and ${best.after} after.`;
  }
  if (mountChanged && !sensorPutBack)
    return 'the sensor was mounted anew in between, and nobody has said that it sits at the same marked spot again.';
  return null;
}

function unsaid(bins: RepairResult['bins'], statedBeforehand: boolean, why: string): RepairResult {
  return {
    verdict: 'cannot-say',
    changeDb: null,
    lowDb: null,
    highDb: null,
    bins,
    statedBeforehand,
    sentence: `Cannot say yet: ${why}`,
  };
}
