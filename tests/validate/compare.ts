/**
 * How often is the source named right? Synthetic feed-through with the true source known.
 * `compareTable('evaluation', 2000)` prints the table; the rule was worked out on the set 'design' alone.
 */
import { compareLocations } from '../../collector/compare/index.ts';
import { type Case, randomCase } from './compare-cases.ts';
import type { PathSet } from './compare-paths.ts';

export const DIFFERENCES_DB = [0, 1, 2, 3, 4.5, 6, 9, 12];

export interface Outcome extends Omit<Case, 'question'> {
  answer: 'right' | 'wrong' | 'not-clear';
}

export function runCase(set: PathSet, seed: number): Outcome {
  const { question, ...facts } = randomCase(set, seed, DIFFERENCES_DB);
  const { verdict } = compareLocations(question);
  const answer =
    verdict.kind === 'not-clear' ? 'not-clear' : verdict.locationId === facts.sourceId ? 'right' : 'wrong';
  return { ...facts, answer };
}

export interface Share {
  cases: number;
  right: number;
  wrong: number;
  notClear: number;
}

export function share(outcomes: readonly Outcome[]): Share {
  const of = (answer: Outcome['answer']) => outcomes.filter((one) => one.answer === answer).length;
  return { cases: outcomes.length, right: of('right'), wrong: of('wrong'), notClear: of('not-clear') };
}

/** Noise in many bands, not one tone alone. */
const isBroad = ({ kind }: Outcome) => kind !== 'tone';

/** What is expected to be decided: plain paths, a difference of 6 dB or more, well above the background. */
export const isEasy = (one: Outcome) =>
  one.truth === 'plain' && one.differenceDb >= 6 && one.noiseToBackgroundDb >= 10 && isBroad(one);

/** What the "wrong" share is counted over: all but sources outside that favour one location as a real one would. */
export const isCounted = ({ truth }: Outcome) => truth !== 'nearer-outside';

export function rows(outcomes: readonly Outcome[]): [string, Share][] {
  const counted = outcomes.filter(isCounted);
  const list: [string, Share][] = [];
  for (const truth of ['plain', 'resonant'] as const) {
    for (const db of DIFFERENCES_DB) {
      list.push([
        `${truth} paths, ${db} dB`,
        share(outcomes.filter((o) => o.truth === truth && o.differenceDb === db)),
      ]);
    }
  }
  for (const kind of ['broadband', 'band', 'impulsive', 'mesh', 'sweep', 'tone'] as const) {
    list.push([
      `over 3 dB, plain, ${kind}`,
      share(outcomes.filter((o) => o.truth === 'plain' && o.differenceDb > 3 && o.kind === kind)),
    ]);
  }
  const over3 = (o: Outcome) => o.differenceDb > 3 && o.sourceId !== null;
  list.push([
    'over 3 dB, plain paths, more than one tone',
    share(outcomes.filter((o) => over3(o) && o.truth === 'plain' && isBroad(o))),
  ]);
  list.push([
    'over 3 dB, plain paths, marked',
    share(outcomes.filter((o) => over3(o) && o.truth === 'plain' && o.marked)),
  ]);
  list.push([
    'over 3 dB, resonant paths, more than one tone',
    share(outcomes.filter((o) => over3(o) && o.truth === 'resonant' && isBroad(o))),
  ]);
  list.push(['over 3 dB, all paths and kinds', share(outcomes.filter(over3))]);
  list.push([
    'common cause, no location is the source',
    share(outcomes.filter((o) => o.truth === 'common-cause')),
  ]);
  list.push(['easy: plain, 6 dB or more, 10 dB over background', share(outcomes.filter(isEasy))]);
  list.push(['all of the above', share(counted)]);
  list.push([
    'not counted: outside source nearer to one location',
    share(outcomes.filter((o) => !isCounted(o))),
  ]);
  return list;
}

export function compareTable(set: PathSet, cases: number, firstSeed = 1): string {
  const outcomes = Array.from({ length: cases }, (_, k) => runCase(set, firstSeed + k));
  const head = `${'case'.padEnd(52)}${'cases'.padStart(7)}${'right'.padStart(9)}${'wrong'.padStart(9)}${'not clear'.padStart(11)}`;
  const percent = (part: number, of: number) => (of === 0 ? '-' : `${((100 * part) / of).toFixed(1)} %`);
  const lines = rows(outcomes).map(
    ([name, s]) =>
      name.padEnd(52) +
      String(s.cases).padStart(7) +
      percent(s.right, s.cases).padStart(9) +
      percent(s.wrong, s.cases).padStart(9) +
      percent(s.notClear, s.cases).padStart(11),
  );
  const decided = share(outcomes.filter((o) => isCounted(o) && o.answer !== 'not-clear'));
  lines.push(`of ${decided.cases} decided, ${percent(decided.right, decided.cases)} right`);
  return [`set: ${set}`, head, ...lines].join('\n');
}
