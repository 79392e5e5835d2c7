import type { Log } from '../../config.ts';
import type { AlertOutbox, WaitingMessage } from '../../records/alert-outbox.ts';
import type { AlertSenders } from './senders.ts';

/** Carries what waits in the outbox, for as long as it takes. */
export interface AlertCourier {
  /** One round: everything due is tried once. Settles when all have answered. */
  round(): Promise<void>;
  close(): Promise<void>;
}

const TICK_MS = 1_000;
const MOST_AT_ONCE = 20;
const RETRY_MS = { first: 15_000, longest: 3_600_000 };
/** The broker is part of the station: it will be back in a moment. */
const BROKER_RETRY_MS = 5_000;
const GIVE_UP_MS = 3 * 86_400_000;

/**
 * A message is marked as sent after the other side has taken it, so after a crash in between it goes out again: with the
 * same message number, by which the other side can tell.
 */
export function createAlertCourier(deps: {
  outbox: AlertOutbox;
  senders: AlertSenders;
  /** Counts up whenever the broker was found again; 0 before the first time. */
  connections(): number;
  log: Log;
  now(): number;
  /** Time between rounds. Default 1 s. */
  tickMs?: number;
}): AlertCourier {
  const { outbox, senders, connections, log, now, tickMs = TICK_MS } = deps;
  const underWay = new Set<number>();
  const work = new Set<Promise<void>>();
  let connectionsSeen = 0;
  let closed = false;

  async function carry(message: WaitingMessage): Promise<void> {
    const { id, channel, tries, createdMs } = message;
    try {
      await senders.send(message);
      outbox.sent(id, now());
    } catch (error) {
      const problem = (error as Error).message.slice(0, 300);
      const isOver = channel !== 'mqtt' && now() - createdMs > GIVE_UP_MS;
      outbox.failed(id, problem, now(), isOver ? null : now() + waitMs(channel, tries));
      if (tries === 0 && channel !== 'mqtt') log.warn(`an alert could not be sent (${channel}): ${problem}`);
      if (isOver) log.error(`an alert was given up after three days (${channel}): ${problem}`);
    } finally {
      underWay.delete(id);
    }
  }

  async function openAgain(): Promise<void> {
    if (connections() === connectionsSeen) return;
    const found = connections();
    await senders.publishOpen();
    outbox.hurry('mqtt');
    connectionsSeen = found;
  }

  async function round(): Promise<void> {
    if (closed) return;
    // A broker that goes again at once is met again at its next return.
    await openAgain().catch(() => {});
    const due = outbox.due(now(), MOST_AT_ONCE).filter(({ id }) => !underWay.has(id));
    for (const message of due) underWay.add(message.id);
    await Promise.all(due.map(carry));
  }

  /** A slow receiver holds up only itself: rounds overlap. */
  function tick(): void {
    const one = round()
      .catch((error: Error) => log.error(`alerts could not be sent: ${error.message}`))
      .finally(() => work.delete(one));
    work.add(one);
  }

  const timer = setInterval(tick, tickMs);
  timer.unref();
  return {
    round,
    async close() {
      closed = true;
      clearInterval(timer);
      await Promise.all(work);
    },
  };
}

/** Doubling, scattered so that many messages do not come back all at once. */
function waitMs(channel: WaitingMessage['channel'], tries: number): number {
  if (channel === 'mqtt') return BROKER_RETRY_MS;
  const longest = Math.min(RETRY_MS.longest, RETRY_MS.first * 2 ** tries);
  return Math.round(longest * (0.5 + Math.random() / 2));
}
