import { Type } from 'typebox';
import { OwnPasswordRequest, PersonChange, PersonEntry, PersonRequest } from '../../contract/people.ts';
import type { App, Context } from '../context.ts';
import { Refusal } from '../errors.ts';
import { change, closed, Done, IdParams } from '../http/schemas.ts';

/** Who may use the station, and with which role. Passwords go in and never come out. */
export function peopleRoutes(app: App, { records, limits, log, now }: Context): void {
  const { people } = records;
  const access = 'shop' as const;
  const rateLimit = { max: limits.loginsPerMinute, timeWindow: 60_000 };

  app.get(
    '/people',
    { schema: { response: { 200: Type.Array(PersonEntry) } }, config: { access } },
    (request) => people.list().map((person) => ({ ...person, you: isSelf(request, person.id) })),
  );

  app.post(
    '/people',
    {
      schema: { body: closed(PersonRequest), response: { 200: PersonEntry } },
      config: { access, rateLimit },
    },
    async (request) => {
      const { name, password, role } = request.body;
      const person = await people.create(name, password, role);
      log.info(`an account with the role ${role} was made`);
      return { ...person, createdMs: now(), you: false };
    },
  );

  app.patch(
    '/people/:id',
    {
      schema: { params: IdParams, body: change(PersonChange), response: { 200: PersonEntry } },
      config: { access, rateLimit },
    },
    async (request) => {
      const { id } = request.params;
      const you = isSelf(request, id);
      const person = await people.change(id, request.body, you ? request.session?.id : undefined);
      return { ...person, you };
    },
  );

  app.delete(
    '/people/:id',
    { schema: { params: IdParams, response: { 200: Done } }, config: { access } },
    (request) => {
      const { id } = request.params;
      people.remove(id);
      log.info('an account was removed');
      return { done: true as const };
    },
  );

  app.post(
    '/password',
    { schema: { body: closed(OwnPasswordRequest), response: { 200: Done } }, config: { rateLimit } },
    async (request) => {
      const session = request.session;
      if (session === null) throw new Refusal('LOGIN_NEEDED');
      const { current, password } = request.body;
      const { id, name } = session.person;
      if ((await people.verify(name, current)) === null)
        throw new Refusal('PASSWORD_WRONG', { field: 'current' });
      await people.change(id, { password }, session.id);
      return { done: true as const };
    },
  );
}

function isSelf(request: { session: { person: { id: number } } | null }, id: number): boolean {
  return request.session?.person.id === id;
}
