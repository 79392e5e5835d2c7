import { setTimeout as sleep } from 'node:timers/promises';
import { CollectorError } from '../../errors.ts';
import { retryAfterMs } from './client.ts';
import { createFullerFirst } from './fuller-first.ts';
import type { Outbox, OutboxEntry } from './outbox.ts';
import { type BatchDeps, sendBatch } from './send-batch.ts';

/** Entries in one request: about 5000 lines, the batch size that InfluxDB's documentation recommends. */
const BATCH = 1200;
/** What is committed waits so long for company. */
const GATHER_MS = 250;
const RETRY_MS = { first: 1000, longest: 60_000 };

export interface CourierEvents {
  /** Delivery stands still for this reason, or goes on again. */
  problem(error: CollectorError | null): void;
  /** So many entries were refused for good. */
  rejected(count: number, reason: string): void;
}

/** Carries the outbox to the database, in order, for as long as it takes. */
export interface Courier {
  /** Something was committed. */
  wake(): void;
  /** Tries at once, and settles when nothing waits any more: true, or false when `timeoutMs` passes first. */
  drained(timeoutMs: number): Promise<boolean>;
  /** Tries once more, then stops. What is left goes on at the next start. */
  close(): Promise<void>;
}

export function startCourier(
  outbox: Outbox,
  deps: BatchDeps & { knowsFlux: boolean },
  events: CourierEvents,
): Courier {
  const fullerFirst = deps.knowsFlux
    ? createFullerFirst(deps.client, deps.site)
    : async (send: OutboxEntry[]) => ({ send, keep: [] });
  let closing = false;
  let failures = 0;
  let nudge = new AbortController();
  const idle = new Set<() => void>();

  /** A batch; true when there was one. */
  async function advance(): Promise<boolean> {
    const entries = outbox.next(BATCH);
    if (entries.length === 0) return false;
    const { send, keep } = await fullerFirst(entries);
    const { delivered, rejected } = await sendBatch(send, deps);
    outbox.remove([...delivered, ...keep], 'delivered');
    for (const { entries: refused, reason } of rejected) {
      outbox.remove(refused, 'rejected');
      events.rejected(refused.length, reason);
    }
    return true;
  }

  async function pause(ms: number): Promise<void> {
    await sleep(ms, undefined, { signal: nudge.signal }).catch(() => {});
  }

  function hurry(): void {
    nudge.abort();
    nudge = new AbortController();
  }

  let committed = false;
  let wakeUp = () => {};
  async function untilWoken(): Promise<void> {
    // Committed since the outbox was found empty: who waits for it to be empty waits on.
    if (committed) return;
    for (const settle of idle) settle();
    idle.clear();
    if (closing) return;
    if (!committed) {
      await new Promise<void>((resolve) => {
        wakeUp = resolve;
      });
    }
    if (idle.size === 0 && !closing) await pause(GATHER_MS);
  }

  async function run(): Promise<void> {
    for (;;) {
      try {
        committed = false;
        const more = await advance();
        if (failures > 0) events.problem(null);
        failures = 0;
        if (closing) return;
        if (!more) await untilWoken();
      } catch (error) {
        failures++;
        events.problem(
          error instanceof CollectorError
            ? error
            : new CollectorError('COLLECTOR_FAILED', String(error), error),
        );
        if (closing) return;
        const backOff = Math.min(RETRY_MS.longest, RETRY_MS.first * 2 ** (failures - 1));
        // Many stations find the database back at the same time.
        const scattered = backOff * (0.5 + Math.random() / 2);
        await pause(Math.max(scattered, Math.min(retryAfterMs(error), RETRY_MS.longest)));
        if (closing) return;
      }
    }
  }

  const ended = run();

  return {
    wake() {
      committed = true;
      wakeUp();
    },
    async drained(timeoutMs) {
      let settle = () => {};
      const done = new Promise<true>((resolve) => {
        settle = () => resolve(true);
      });
      idle.add(settle);
      hurry();
      wakeUp();
      const timer = new AbortController();
      const late = sleep(timeoutMs, false as const, { signal: timer.signal }).catch(() => false as const);
      try {
        return await Promise.race([done, late]);
      } finally {
        timer.abort();
        idle.delete(settle);
      }
    },
    async close() {
      closing = true;
      hurry();
      wakeUp();
      await ended;
    },
  };
}
