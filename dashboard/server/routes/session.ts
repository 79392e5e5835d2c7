import type { FastifyReply, FastifyRequest } from 'fastify';
import { LoginRequest, SetupRequest } from '../../contract/http.ts';
import { SessionState } from '../../contract/model.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import type { SessionCookie } from '../http/cookie.ts';
import { closed } from '../http/schemas.ts';
import type { Person } from '../records/people.ts';

export function sessionRoutes(app: App, context: Context, cookie: SessionCookie): void {
  const { records, config, log } = context;
  const rateLimit = { max: context.limits.loginsPerMinute, timeWindow: 60_000 };
  const answer = { 200: SessionState };

  function state(person: Person | null): SessionState {
    return {
      setupNeeded: records.people.count() === 0,
      person: person === null ? null : { name: person.name, role: person.role },
      site: config.site,
      ...(person === null || context.fleet === undefined
        ? {}
        : { sites: context.fleet === 'write-only' ? ('write-only' as const) : ('readable' as const) }),
      nowMs: context.now(),
      demo: context.demoRunning?.() ?? false,
      ...(context.demoRunning?.() ? { demoHistoryShare: context.demoHistoryShare?.() ?? 1 } : {}),
    };
  }

  /** A new session for each login: one that was known before can never become somebody's. */
  function enter(request: FastifyRequest, reply: FastifyReply, person: Person): SessionState {
    if (request.session !== null) records.sessions.close(request.session.id);
    const { token, session } = records.sessions.open(person);
    cookie.write(reply, token, session.expiresMs);
    return state(person);
  }

  app.get('/session', { schema: { response: answer }, config: { access: 'open' } }, (request) =>
    state(request.session?.person ?? null),
  );

  app.post(
    '/setup',
    { schema: { body: closed(SetupRequest), response: answer }, config: { access: 'open', rateLimit } },
    async (request, reply) => {
      const { token, name, password } = request.body;
      if (name.trim() === '')
        throw new Refusal('VALIDATION_FAILED', { field: 'name', message: "'name' is blank." });
      const person = await records.setup.redeem(token, name, password);
      log.info(`the station was set up from ${request.ip}`);
      return enter(request, reply, person);
    },
  );

  app.post(
    '/login',
    { schema: { body: closed(LoginRequest), response: answer }, config: { access: 'open', rateLimit } },
    async (request, reply) => {
      const { name, password } = request.body;
      const person = await records.people.verify(name, password);
      if (person === null) {
        // Without the name: people type passwords into that field too.
        log.warn(`a login from ${request.ip} was refused`);
        throw new Refusal('LOGIN_WRONG');
      }
      return enter(request, reply, person);
    },
  );

  app.post('/logout', { schema: { response: answer }, config: { access: 'open' } }, (request, reply) => {
    if (request.session !== null) records.sessions.close(request.session.id);
    cookie.clear(reply);
    return state(null);
  });
}
