import { Worker } from 'node:worker_threads';
import type { SpanAnswer, SpanQuestion } from '../../collector/index.ts';

export interface AnalysisTask {
  id: number;
  question: SpanQuestion;
}

export type AnalysisReply =
  | { id: number; answer: SpanAnswer | null; failure?: undefined }
  | { id: number; failure: string };

interface Waiting {
  resolve(answer: SpanAnswer | null): void;
  reject(error: Error): void;
}

/**
 * Looks into samples in a thread of its own, started at the first question and again after a failure: seconds of
 * arithmetic must hold up neither the page nor acknowledgements.
 */
export function startAnalysisThread(): {
  analyse(question: SpanQuestion): Promise<SpanAnswer | null>;
  close(): Promise<void>;
} {
  const waiting = new Map<number, Waiting>();
  let worker: Worker | null = null;
  let next = 0;

  function failAll(of: Worker, error: Error): void {
    if (worker !== of) return;
    worker = null;
    for (const { reject } of waiting.values()) reject(error);
    waiting.clear();
  }

  function started(): Worker {
    // One look at a minute of a fast three-axis sensor takes some 200 MB; a fault must not take all the memory.
    const fresh = new Worker(new URL('./analysis-thread.js', import.meta.url), {
      resourceLimits: { maxOldGenerationSizeMb: 512 },
    });
    fresh.unref();
    fresh.on('message', (reply: AnalysisReply) => {
      const asker = waiting.get(reply.id);
      waiting.delete(reply.id);
      if (reply.failure === undefined) asker?.resolve(reply.answer);
      else asker?.reject(new Error(reply.failure));
    });
    fresh.on('error', (error) => failAll(fresh, error));
    fresh.on('exit', () => failAll(fresh, new Error('the analysis was ended')));
    return fresh;
  }

  return {
    analyse: (question) =>
      new Promise((resolve, reject) => {
        next += 1;
        waiting.set(next, { resolve, reject });
        worker ??= started();
        worker.postMessage({ id: next, question } satisfies AnalysisTask);
      }),
    async close() {
      await worker?.terminate();
    },
  };
}
