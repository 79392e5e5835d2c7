/** Answers questions about raw samples in a worker thread: see `createThreadAnalyst`. */
import { parentPort } from 'node:worker_threads';
import { inquiry } from '../../collector/index.ts';
import type { InquiryReply, InquiryTask } from './analyst.ts';

parentPort?.on('message', async ({ kind, question }: InquiryTask) => {
  let reply: InquiryReply;
  try {
    reply = { ok: true, answer: await inquiry.answer(kind, question as never) };
  } catch (error) {
    const { name, message, code } = error as { name?: string; message?: string; code?: unknown };
    reply = {
      ok: false,
      name: name ?? 'Error',
      message: message ?? String(error),
      code: typeof code === 'string' ? code : null,
    };
  }
  parentPort?.postMessage(reply);
});
