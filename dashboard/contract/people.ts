/** People who may use the station. */
import { type Static, Type } from 'typebox';
import { Name, Password } from './http.ts';

export const Role = Type.Enum(['shop', 'technician']);
export type Role = Static<typeof Role>;

/** GET /api/people -> PersonEntry[], by name. */
export const PersonEntry = Type.Object({
  id: Type.Integer(),
  name: Type.String(),
  role: Role,
  createdMs: Type.Number(),
  /** Whether it is the person who asks. */
  you: Type.Boolean(),
});
export type PersonEntry = Static<typeof PersonEntry>;

/** POST /api/people -> PersonEntry. */
export const PersonRequest = Type.Object({ name: Name, password: Password, role: Role });
export type PersonRequest = Static<typeof PersonRequest>;

/** PATCH /api/people/:id -> PersonEntry. A new password signs the person out everywhere. DELETE -> { done }. */
export const PersonChange = Type.Object({ password: Password, role: Role });
export type PersonChange = Partial<Static<typeof PersonChange>>;

/** POST /api/password -> { done }: one's own; signs out everywhere but here. */
export const OwnPasswordRequest = Type.Object({
  current: Type.String({ maxLength: 200 }),
  password: Password,
});
export type OwnPasswordRequest = Static<typeof OwnPasswordRequest>;
