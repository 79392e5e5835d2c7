import { CaptureError, inquiry } from '../../../collector/index.ts';
import { Refusal } from '../errors.ts';

/** Answers questions about raw samples: takes processor time, so a station puts a thread behind it. */
export interface Analyst {
  ask<Kind extends inquiry.InquiryKind>(
    kind: Kind,
    question: inquiry.Question<Kind>,
  ): Promise<inquiry.Answer<Kind>>;
}

/** In this very thread: for programs that have nothing else to do meanwhile. */
export const directAnalyst: Analyst = { ask: inquiry.answer };

/** Refuses with what a person can do about it, in place of what the samples' readers throw. */
export function polite({ ask }: Analyst): Analyst {
  return {
    async ask(kind, question) {
      try {
        return await ask(kind, question);
      } catch (cause) {
        throw refusalOf(cause) ?? cause;
      }
    },
  };
}

function refusalOf(cause: unknown): Refusal | null {
  const { name, code, message: full } = cause as { name?: string; code?: string; message?: string };
  // Where the station keeps a file is no business of who sent it.
  const message = code?.startsWith('WAV_') ? full?.slice(full.indexOf(': ') + 2) : full;
  const told =
    message === undefined ? {} : { message: `${message.charAt(0).toUpperCase()}${message.slice(1)}.` };
  if (cause instanceof CaptureError || code === 'CAPTURE_TOO_LARGE')
    return new Refusal('SPAN_TOO_LONG', { ...told, cause });
  if (name === 'RecordedDataError' || code?.startsWith('WAV_'))
    return new Refusal('CANNOT_ANSWER', { ...told, cause });
  if (name === 'RangeError') return new Refusal('CANNOT_ANSWER', { ...told, cause });
  if (code === 'ANALYSIS_BUSY' || code === 'ANALYSIS_TOO_LONG') return new Refusal(code, { cause });
  if (code === 'JOURNAL_FOLDER_MISSING') return new Refusal('RAW_SAMPLES_MISSING', { cause });
  return null;
}
