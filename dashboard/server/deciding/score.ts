import { trend } from '../../../collector/index.ts';
import type { Damage, Score, StripDown, Tally } from '../../contract/strip-downs.ts';
import { verdictText } from '../../contract/words/findings.ts';
import { dateOf, percent } from '../weeks/words.ts';

const DAMAGE_WORDS: Record<Damage, string> = {
  outer: 'outer race',
  inner: 'inner race',
  ball: 'rolling elements',
  cage: 'cage',
  gear: 'gear',
  'shaft-or-joint': 'shaft or joint',
  other: 'something else',
};

/**
 * Was what had been said right? A named element is right if it is among what was damaged; "nothing stands out" is right
 * if nothing was, and wrong for any damage at that location, also one that the sensor's band may not have shown.
 */
export function scoreOf(said: StripDown['said'], damage: readonly Damage[]): Score {
  if (said === null) return 'nothing-said';
  const { verdict } = said;
  if (verdict === 'not-clear' || verdict === 'not-covered') return verdict;
  const isRight = verdict === 'none' ? damage.length === 0 : damage.includes(verdict as Damage);
  return isRight ? 'right' : 'wrong';
}

export function scoreSentence(said: StripDown['said'], damage: readonly Damage[]): string {
  const found =
    damage.length === 0 ? 'found in order' : `damaged: ${damage.map((one) => DAMAGE_WORDS[one]).join(', ')}`;
  if (said === null) return `No look at the samples had been made before; ${found}.`;
  const words = verdictText(said.verdict, said.bearing);
  const told = `Said on ${dateOf(said.atMs)}: ${words.charAt(0).toLowerCase()}${words.slice(1)}; ${found}`;
  return `${told}: ${SCORE_WORDS[scoreOf(said, damage)]}.`;
}

const SCORE_WORDS: Record<Score, string> = {
  right: 'right',
  wrong: 'wrong',
  'not-clear': 'no claim, it had said not clear',
  'not-covered': 'no claim, it had said not covered',
  'nothing-said': 'no claim',
};

export function tallyOf(scores: readonly Score[]): Tally {
  const count = (score: Score) => scores.filter((one) => one === score).length;
  const [right, wrong] = [count('right'), count('wrong')];
  const rightShare = trend.shareInterval(right, right + wrong);
  const [notClear, notCovered, nothingSaid] = [
    count('not-clear'),
    count('not-covered'),
    count('nothing-said'),
  ];
  return {
    right,
    wrong,
    notClear,
    notCovered,
    nothingSaid,
    rightShare,
    sentence: tallySentence({ right, wrong, rightShare }),
  };
}

function tallySentence({ right, wrong, rightShare }: Pick<Tally, 'right' | 'wrong' | 'rightShare'>): string {
  if (rightShare === null) return 'No claim has been put to the test yet.';
  const { share, low, high } = rightShare;
  const cases = right + wrong;
  const range = `the true share lies between ${percent(low)} and ${percent(high)} (95 % interval of Wilson)`;
  return cases < 5
    ? `${right} of ${cases} claims were right: too few to speak of a share; ${range}.`
    : `${right} of ${cases} claims were right, ${percent(share)}; ${range}.`;
}
