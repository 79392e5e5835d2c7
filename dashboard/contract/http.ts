/** Requests of the HTTP interface. Every route is listed here once; server and browser both read it. */
import { type Static, Type } from 'typebox';
import { ApiError, MachineClass, TrendValue } from './model.ts';
import { NumberOrNull, SomeText } from './scalars.ts';

export const Name = SomeText(80);
export const Password = Type.String({ minLength: 10, maxLength: 200 });

/**
 * POST /api/setup: the one-time link's token makes the first person (role shop). -> SessionState
 *
 * The link is `<address>/setup#<token>`: a fragment never leaves the browser, so no log holds it.
 */
export const SetupRequest = Type.Object({ token: Type.String(), name: Name, password: Password });
export type SetupRequest = Static<typeof SetupRequest>;

/** POST /api/login -> SessionState. POST /api/logout -> SessionState. GET /api/session -> SessionState. */
export const LoginRequest = Type.Object({ name: Name, password: Type.String({ maxLength: 200 }) });
export type LoginRequest = Static<typeof LoginRequest>;

/** POST /api/assets -> Asset. GET /api/assets -> Asset[]. PATCH and DELETE /api/assets/:id. */
export const AssetRequest = Type.Object({
  name: Name,
  kind: Type.Enum(['vehicle', 'machine']),
  machineClass: MachineClass,
});
export type AssetRequest = Static<typeof AssetRequest>;

/** POST /api/assets/:id/locations -> Location. GET, PATCH and DELETE /api/locations/:id. */
export const LocationRequest = Type.Object({ name: Name, component: Name });
export type LocationRequest = Static<typeof LocationRequest>;

/** PUT /api/locations/:id/mount (null takes the sensor off) -> Location. */
export const MountRequest = Type.Object({
  mount: Type.Union([
    Type.Object({
      nodeId: Type.String({ pattern: '^[0-9a-f]{16}$' }),
      sensor: Type.Integer({ minimum: 0, maximum: 15 }),
    }),
    Type.Null(),
  ]),
});
export type MountRequest = Static<typeof MountRequest>;

/**
 * GET /api/nodes -> NodeSummary[]. POST /api/nodes -> NodeCredential, shown once. DELETE /api/nodes/:nodeId refuses
 * the node from then on (add it again for a new password). The last two need the role shop, as deleting an asset.
 */
export const NodeRequest = Type.Object({
  nodeId: Type.String({ pattern: '^[0-9a-f]{16}$' }),
  label: Name,
});
export type NodeRequest = Static<typeof NodeRequest>;

export const NodeCredential = Type.Object({
  nodeId: Type.String(),
  password: Type.String(),
  /** C header that holds all the node needs, ready to be saved beside its firmware. */
  header: Type.Optional(Type.String()),
});
export type NodeCredential = Static<typeof NodeCredential>;

/** GET /api/locations/:id/trend?value&axis&fromMs&toMs&points -> Trend */
export const TrendQuery = Type.Object({
  value: Type.Optional(TrendValue),
  axis: Type.Optional(Type.Enum(['x', 'y', 'z', 'single', 'highest'])),
  fromMs: Type.Integer(),
  toMs: Type.Integer(),
  points: Type.Optional(Type.Integer({ minimum: 10, maximum: 2000 })),
});
export type TrendQuery = Static<typeof TrendQuery>;

/** GET /api/locations/:id/readings?fromMs&toMs -> LocationReading[], oldest first; a span of at most one hour. */
export const ReadingsQuery = Type.Object({ fromMs: Type.Integer(), toMs: Type.Integer() });
export type ReadingsQuery = Static<typeof ReadingsQuery>;

/**
 * GET /api/locations/:id/spectrum?fromMs&toMs -> KeptSpectrum: mean of the minutes that begin in the span, at most
 * one day.
 */
export const SpectrumQuery = Type.Object({ fromMs: Type.Integer(), toMs: Type.Integer() });
export type SpectrumQuery = Static<typeof SpectrumQuery>;

/** POST /api/demo (empty station only) starts the demo's virtual nodes. GET /api/health -> Health; only `ok` for who is not logged in. */
export const Health = Type.Object({
  ok: Type.Boolean(),
  journal: Type.Object({ bytes: Type.Number(), freeBytes: Type.Number(), waiting: Type.Boolean() }),
  collector: Type.Object({
    lagMs: Type.Union([Type.Number(), Type.Null()]),
    lastReadingMs: Type.Union([Type.Number(), Type.Null()]),
    /** What it does; absent before it has been heard. `silent`: it has not been heard for a while. */
    phase: Type.Optional(Type.Enum(['starting', 'waiting', 'catching-up', 'live', 'stopped', 'silent'])),
    /** While catching up: share of the backlog done, 0 to 1. */
    caughtUpShare: Type.Optional(NumberOrNull),
    error: Type.Optional(Type.Union([ApiError, Type.Null()])),
  }),
  /** The dashboard's own connection to the broker; while it is lost, readings come from the store. */
  mqtt: Type.Optional(Type.Object({ connected: Type.Boolean(), lastMessageMs: NumberOrNull })),
  /** Counters of the stream since start: accepted and refused packets by reason. */
  counters: Type.Record(Type.String(), Type.Number()),
});
export type Health = Static<typeof Health>;
