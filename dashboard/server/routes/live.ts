import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';

/** GET /api/live: the websocket of contract/live.ts. Login and origin are checked before the upgrade. */
export function liveRoute(app: App, context: Context): void {
  const { live } = context;
  app.get(
    '/live',
    {
      websocket: true,
      preHandler: async (request) => {
        if (request.ws && !live.hasRoom()) throw new Refusal('TOO_MANY_BROWSERS');
      },
    },
    (socket, request) => {
      if (request.session === null) socket.terminate();
      else live.add(socket, request.session);
    },
  );
}
