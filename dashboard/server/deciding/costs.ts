import { trend } from '../../../collector/index.ts';
import type { DecisionAnswer, DecisionFigures, PartKind } from '../../contract/decisions.ts';
import { Refusal } from '../errors.ts';
import type { LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import { breakEvenSentence, costSentences } from './cost-sentences.ts';
import { safetyOf } from './part-kind.ts';

/** Words of the location, of the drive train and of the person: any of them may say that waiting is out of question. */
export function safetyWith(
  records: RecordStore,
  location: LocationRecord,
  part: PartKind | undefined,
): trend.SafetyQuestion {
  const told = safetyOf(records, location);
  return part === undefined ? told : { location: told.location, findings: [...told.findings, part] };
}

/** What the figures come to. A figure that cannot be used is refused, with its name. */
export function decisionAnswer(
  records: RecordStore,
  location: LocationRecord,
  figures: DecisionFigures,
): DecisionAnswer {
  const { options: asked } = figures;
  if (new Set(asked.map(({ name }) => name)).size < asked.length)
    throw new Refusal('VALIDATION_FAILED', { field: 'options', message: 'Two options have the same name.' });
  const question: trend.CostQuestion = {
    ...figures,
    safety: safetyWith(records, location, figures.part),
  };
  try {
    const { caution, options } = trend.decisionCosts(question);
    const [waiting, acting] = [true, false].map((waits) =>
      asked.filter(({ kind }) => (kind === 'watch') === waits),
    ) as [typeof asked, typeof asked];
    const breakEvens = waiting.flatMap((wait) =>
      acting.map((act) => {
        const found = trend.breakEven(question, wait.name, act.name);
        return { ...found, sentence: breakEvenSentence(found, wait.breakdownChance, figures.keptMonths) };
      }),
    );
    return { caution, options, breakEvens, sentences: costSentences(options, figures) };
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    throw new Refusal('VALIDATION_FAILED', { field: 'options', message: `${cause.message}.`, cause });
  }
}
