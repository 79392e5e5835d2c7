import { Type } from 'typebox';
import { NodeCredential, NodeRequest } from '../../contract/http.ts';
import { NodeSummary } from '../../contract/model.ts';
import type { App, Context } from '../context.ts';
import { closed, Done } from '../http/schemas.ts';

const NodeParams = Type.Object({ nodeId: NodeRequest.properties.nodeId });

export function nodeRoutes(app: App, context: Context): void {
  const { records, newest, log } = context;

  app.get('/nodes', { schema: { response: { 200: Type.Array(NodeSummary) } } }, async () => {
    await newest.refresh();
    const mounts = records.mounts.current();
    return records.nodes.list().map(({ nodeId, label }): NodeSummary => {
      const seen = newest.ofNode(nodeId);
      const mounted = mounts.filter((mount) => mount.nodeId === nodeId);
      const numbers = new Set([...seen, ...mounted].map(({ sensor }) => sensor));
      const sensors = [...numbers]
        .sort((a, b) => a - b)
        .map((sensor) => ({
          sensor,
          locationId: mounted.find((mount) => mount.sensor === sensor)?.locationId ?? null,
        }));
      const ends = seen.map(({ startMs, durationS }) => startMs + 1000 * durationS);
      return { nodeId, label, sensors, lastSeenMs: ends.length === 0 ? null : Math.round(Math.max(...ends)) };
    });
  });

  app.post(
    '/nodes',
    { schema: { body: closed(NodeRequest), response: { 200: NodeCredential } }, config: { access: 'shop' } },
    (request) => {
      const { nodeId, label } = request.body;
      const password = records.nodes.add(nodeId, label);
      log.info(`node ${nodeId} is let in`);
      return { nodeId, password };
    },
  );

  app.delete(
    '/nodes/:nodeId',
    { schema: { params: NodeParams, response: { 200: Done } }, config: { access: 'shop' } },
    (request) => {
      records.nodes.revoke(request.params.nodeId);
      log.info(`node ${request.params.nodeId} is refused from now on`);
      return { done: true as const };
    },
  );
}
