/**
 * How often is the source named right? Synthetic feed-through with the true source known.
 * `compareTable('evaluation', 2000)` prints the table; the rule was worked out on the set 'design' alone.
 */
import { type CompareQuestion, compareLocations } from '../../collector/compare/index.ts';
import { type Case, randomCase } from './compare-cases.ts';
import type { PathSet } from './compare-paths.ts';
import { SOURCE_KINDS } from './compare-sources.ts';

export const DIFFERENCES_DB = [0, 1, 2, 3, 4.5, 6, 9, 12];

type Answer = 'right' | 'wrong' | 'not-clear';

export interface Outcome extends Omit<Case, 'question'> {
  answer: Answer;
  /** The same with the strikes' rate stated, where the source strikes. */
  withLine: Answer | null;
}

export function runCase(set: PathSet, seed: number): Outcome {
  const { question, ...facts } = randomCase(set, seed, DIFFERENCES_DB);
  const answerTo = (asked: CompareQuestion): Answer => {
    const { kind, locationId } = compareLocations(asked).verdict;
    return kind === 'not-clear' ? 'not-clear' : locationId === facts.sourceId ? 'right' : 'wrong';
  };
  const { repeatsHz } = facts;
  return {
    ...facts,
    answer: answerTo(question),
    withLine: repeatsHz === null ? null : answerTo({ ...question, defectHz: repeatsHz }),
  };
}

export interface Share {
  cases: number;
  right: number;
  wrong: number;
  notClear: number;
}

export function share(outcomes: readonly Outcome[]): Share {
  const of = (answer: Answer) => outcomes.filter((one) => one.answer === answer).length;
  return { cases: outcomes.length, right: of('right'), wrong: of('wrong'), notClear: of('not-clear') };
}

/** Noise in several bands, not one tone alone: a single tone is in one band, and its lead may be a resonance's. */
const isBroad = ({ kind }: Outcome) => kind !== 'tone';

/** Expected to be decided: smooth or rough paths, 6 dB or more, well above the background. */
export const isEasy = (one: Outcome) =>
  (one.truth === 'smooth' || one.truth === 'rough') &&
  one.differenceDb >= 6 &&
  one.noiseToBackgroundDb >= 10 &&
  isBroad(one);

/** What "right at differences over 3 dB" is counted over: smooth paths, where that difference holds in every band. */
export const isHeadline = (one: Outcome) => one.truth === 'smooth' && one.differenceDb > 3 && isBroad(one);

/** What the "wrong" share is counted over: all but sources outside that favour one location as a real one would. */
export const isCounted = ({ truth }: Outcome) => truth !== 'nearer-outside';

function rows(outcomes: readonly Outcome[]): [string, Share][] {
  const list: [string, Share][] = [];
  const add = (name: string, keep: (one: Outcome) => boolean) =>
    list.push([name, share(outcomes.filter(keep))]);
  const over3 = (one: Outcome) => one.differenceDb > 3 && one.sourceId !== null;
  for (const truth of ['smooth', 'rough', 'resonant'] as const) {
    for (const db of DIFFERENCES_DB) {
      add(`${truth} paths, ${db} dB`, (one) => one.truth === truth && one.differenceDb === db);
    }
  }
  for (const kind of SOURCE_KINDS) {
    add(
      `over 3 dB, smooth or rough, ${kind}`,
      (one) => over3(one) && one.truth !== 'resonant' && one.kind === kind,
    );
  }
  add('over 3 dB, smooth, more than one tone', isHeadline);
  add('  of these, sensors within 3 %', (one) => isHeadline(one) && one.toleranceShare < 0.05);
  add('  of these, sensors within 10 %', (one) => isHeadline(one) && one.toleranceShare > 0.05);
  add('  of these, with quiet seconds marked', (one) => isHeadline(one) && one.marked);
  add('over 3 dB, rough, more than one tone', (one) => over3(one) && one.truth === 'rough' && isBroad(one));
  add(
    'over 3 dB, resonant, more than one tone',
    (one) => over3(one) && one.truth === 'resonant' && isBroad(one),
  );
  add('over 3 dB, all paths and kinds', over3);
  add('common cause: no location is the source', (one) => one.truth === 'common-cause');
  add('easy: no resonance, 6 dB, 10 dB over background', isEasy);
  add('all of the above', isCounted);
  for (const truth of ['smooth', 'rough', 'resonant', 'common-cause'] as const) {
    const striking = outcomes.filter(
      (one) =>
        one.truth === truth && one.withLine !== null && (truth === 'common-cause' || one.differenceDb > 3),
    );
    list.push([
      `strikes, rate stated: ${truth}${truth === 'common-cause' ? '' : ', over 3 dB'}`,
      share(striking.map((one) => ({ ...one, answer: one.withLine! }))),
    ]);
  }
  add('not counted: outside source nearer to one location', (one) => !isCounted(one));
  return list;
}

/**
 * Runs so many cases of a set and gives the table as text. Seeds up to 2000 of the evaluation set were looked at once,
 * and the rule made stricter for what they showed, so the count begins after them.
 */
export function compareTable(set: PathSet, cases: number, firstSeed = 2001): string {
  return formatTable(
    set,
    Array.from({ length: cases }, (_, k) => runCase(set, firstSeed + k)),
  );
}

export function formatTable(set: PathSet, outcomes: readonly Outcome[]): string {
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
