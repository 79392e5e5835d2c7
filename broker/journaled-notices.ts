import { encodeJournaled, toNodeTopic } from '../firmware-protocol/index.ts';
import type { JournaledRuns } from './journaled-runs.ts';

/** Nodes are told together for so long: each message costs a node's radio, and says all that the ones before said. */
const EVERY_MS = 500;

/**
 * Tells nodes, again and again and while they can be reached, which of their packets are in the journal. Returns the
 * way to stop.
 */
export function tellJournaled(
  site: string,
  runs: JournaledRuns,
  publish: (topic: string, payload: Buffer) => void,
  reachable: () => boolean = () => true,
): () => void {
  const timer = setInterval(() => {
    if (!reachable()) return;
    for (const journaled of runs.takeUntold()) {
      publish(toNodeTopic(site, journaled.nodeId, 'journaled'), Buffer.from(encodeJournaled(journaled)));
    }
  }, EVERY_MS);
  timer.unref();
  return () => clearInterval(timer);
}
