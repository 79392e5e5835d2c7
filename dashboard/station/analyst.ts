import { Worker } from 'node:worker_threads';
import type { inquiry } from '../../collector/index.ts';
import type { Analyst } from '../server/index.ts';

export interface InquiryTask {
  kind: inquiry.InquiryKind;
  question: unknown;
}

export type InquiryReply =
  | { ok: true; answer: unknown }
  | { ok: false; name: string; message: string; code: string | null };

interface Waiting extends InquiryTask {
  resolve(answer: unknown): void;
  reject(error: Error): void;
}

/** One at a time: two at once would only take the processor from the collector. */
const MOST_WAITING = 24;
const LONGEST_MS = 120_000;

/**
 * Answers questions in a thread of its own, made at the first one, one after the other. Beyond 24 waiting it refuses
 * (`ANALYSIS_BUSY`); one that takes longer than two minutes is stopped with its thread (`ANALYSIS_TOO_LONG`).
 */
export function createThreadAnalyst(
  limits: { mostWaiting?: number; longestMs?: number } = {},
): Analyst & { close(): Promise<void> } {
  const { mostWaiting = MOST_WAITING, longestMs = LONGEST_MS } = limits;
  const queue: Waiting[] = [];
  let current: Waiting | null = null;
  let worker: Worker | null = null;
  let timer: NodeJS.Timeout | undefined;
  let closed = false;

  function start(): Worker {
    const made = new Worker(new URL('./inquiry-thread.js', import.meta.url));
    made.unref();
    made.on('message', (reply: InquiryReply) => {
      if (reply.ok) finish((task) => task.resolve(reply.answer));
      else
        finish((task) =>
          task.reject(Object.assign(new Error(reply.message), { name: reply.name, code: reply.code })),
        );
    });
    // A thread that dies (out of memory, for example) takes one question with it; the next gets a new one.
    made.on('error', (error) => lose(made, error));
    made.on('exit', () => lose(made, new Error('the thread that answers ended')));
    return made;
  }

  function lose(which: Worker, error: Error): void {
    if (worker !== which) return;
    worker = null;
    finish((task) => task.reject(error));
  }

  function finish(how: (task: Waiting) => void): void {
    clearTimeout(timer);
    const task = current;
    current = null;
    if (task !== null) how(task);
    next();
  }

  function next(): void {
    if (current !== null || closed) return;
    const task = queue.shift();
    if (task === undefined) return;
    current = task;
    worker ??= start();
    timer = setTimeout(() => {
      const stuck = worker;
      worker = null;
      void stuck?.terminate();
      finish((late) => late.reject(coded('ANALYSIS_TOO_LONG')));
    }, longestMs);
    timer.unref();
    worker.postMessage({ kind: task.kind, question: task.question } satisfies InquiryTask);
  }

  return {
    ask: (kind, question) =>
      new Promise((resolve, reject) => {
        if (closed || queue.length >= mostWaiting) {
          reject(coded('ANALYSIS_BUSY'));
          return;
        }
        queue.push({ kind, question, resolve: resolve as (answer: unknown) => void, reject });
        next();
      }),
    async close() {
      closed = true;
      clearTimeout(timer);
      for (const task of [...(current === null ? [] : [current]), ...queue.splice(0)])
        task.reject(coded('ANALYSIS_BUSY'));
      current = null;
      const running = worker;
      worker = null;
      await running?.terminate();
    },
  };
}

const coded = (code: string) => Object.assign(new Error(code), { code });
