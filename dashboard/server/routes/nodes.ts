import { Type } from 'typebox';
import { NodeCredential, NodeRequest } from '../../contract/http.ts';
import { NodeSummary } from '../../contract/model.ts';
import { RefusedLogin } from '../../contract/rig.ts';
import type { App, Context } from '../context.ts';
import { settingsHeader } from '../enrolment.ts';
import { closed, Done } from '../http/schemas.ts';
import { nodeViews } from '../rig/node-view.ts';

const NodeParams = Type.Object({ nodeId: NodeRequest.properties.nodeId });

export function nodeRoutes(app: App, context: Context): void {
  const { records, newest, log, station } = context;

  app.get('/nodes', { schema: { response: { 200: Type.Array(NodeSummary) } } }, async () => {
    await newest.refresh();
    return nodeViews(context);
  });

  app.get('/nodes/refused', { schema: { response: { 200: Type.Array(RefusedLogin) } } }, () =>
    (context.refusedLogins?.() ?? []).flatMap((login): RefusedLogin[] => {
      const known = login.nodeId === null ? null : records.nodes.find(login.nodeId);
      if (known === null) return [{ ...login, why: 'unknown' }];
      if (known.revokedMs !== null) return [{ ...login, why: 'revoked' }];
      // What was tried before the node got its present credentials is no news any more.
      return login.lastMs < known.createdMs ? [] : [{ ...login, why: 'wrong-password' }];
    }),
  );

  app.post(
    '/nodes',
    { schema: { body: closed(NodeRequest), response: { 200: NodeCredential } }, config: { access: 'shop' } },
    (request) => {
      const { nodeId, label } = request.body;
      const password = records.nodes.add(nodeId, label);
      log.info(`node ${nodeId} is let in`);
      const header = station && settingsHeader({ nodeId, label, password }, station());
      return { nodeId, password, ...(header === undefined ? {} : { header }) };
    },
  );

  app.delete(
    '/nodes/:nodeId',
    { schema: { params: NodeParams, response: { 200: Done } }, config: { access: 'shop' } },
    (request) => {
      records.nodes.revoke(request.params.nodeId);
      context.disconnectNode?.(request.params.nodeId);
      log.info(`node ${request.params.nodeId} is refused from now on`);
      return { done: true as const };
    },
  );
}
