/** Looks into samples in a worker thread: see `startAnalysisThread`. */
import { parentPort } from 'node:worker_threads';
import { analyseSpan } from '../../collector/index.ts';
import type { AnalysisReply, AnalysisTask } from './analysis.ts';

parentPort?.on('message', async ({ id, question }: AnalysisTask) => {
  let reply: AnalysisReply;
  try {
    reply = { id, answer: await analyseSpan(question) };
  } catch (error) {
    reply = { id, failure: (error as Error).message };
  }
  parentPort?.postMessage(reply);
});
