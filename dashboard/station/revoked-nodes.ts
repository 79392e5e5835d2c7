import type { Broker } from '../../broker/index.ts';

const LOOK_MS = 5_000;

/**
 * Cuts off nodes whose credentials have been revoked or renewed since they connected. In one process the dashboard
 * does it at once; where the broker runs apart, the records file is all that it sees of the dashboard.
 */
export function cutOffRevokedNodes(
  broker: Pick<Broker, 'clients' | 'disconnect'>,
  credentials: { stillHolds(nodeId: string): boolean },
): () => void {
  const timer = setInterval(() => {
    const nodes = broker
      .clients()
      .flatMap(({ principal }) => (principal.role === 'node' ? [principal.nodeId] : []));
    for (const nodeId of new Set(nodes)) {
      try {
        if (!credentials.stillHolds(nodeId)) broker.disconnect(nodeId);
      } catch {
        // A file that cannot be read now says nothing about the node; logins report it.
        return;
      }
    }
  }, LOOK_MS);
  timer.unref();
  return () => clearInterval(timer);
}
