import { cutCapture } from '../capture/cut-capture.ts';
import { analyseStretch } from './analyse-stretch.ts';
import type { SpanAnswer, SpanQuestion } from './span-question.ts';

/** A shorter stretch than this says nothing of lines. */
const SHORTEST_S = 1;

/**
 * Cuts the span out of the journal and looks at its longest stretch without a hole. Null when there is none of a
 * second or more.
 *
 * @throws CaptureError and BrokerError as `cutCapture`
 */
export async function analyseSpan(question: SpanQuestion): Promise<SpanAnswer | null> {
  const { journalDir, sensor, span } = question;
  const { sensors } = await cutCapture(journalDir, [sensor], [span]);
  const stretches = sensors[0]?.stretches ?? [];
  const longest = [...stretches].sort((a, b) => seconds(b) - seconds(a))[0];
  return longest === undefined || seconds(longest) < SHORTEST_S ? null : analyseStretch(longest, question);
}

function seconds({ samples, sampleRateHz }: { samples: ArrayLike<number>[]; sampleRateHz: number }): number {
  return (samples[0]?.length ?? 0) / sampleRateHz;
}
