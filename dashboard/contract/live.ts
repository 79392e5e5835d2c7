/** Messages of the live websocket, `/api/live`. */
import { type Static, Type } from 'typebox';
import { LocationReading } from './model.ts';
import { FeltTap } from './rig.ts';

const LiveAxis = Type.Object({
  axis: Type.Enum(['single', 'x', 'y', 'z']),
  waveformMPerS2: Type.Array(Type.Number()),
  spectrumMPerS2: Type.Array(Type.Number()),
});

/** Server to browser. */
export const ServerMessage = Type.Union([
  Type.Object({ type: Type.Literal('reading'), reading: LocationReading }),
  Type.Object({
    type: Type.Literal('waveform'),
    locationId: Type.Integer(),
    startMs: Type.Integer(),
    sampleRateHz: Type.Number(),
    axes: Type.Array(LiveAxis),
    spectrumStepHz: Type.Number(),
  }),
  /** A rap was felt; one with an `id` seen before replaces it: another sensor has reported. */
  Type.Object({ type: Type.Literal('tap'), tap: FeltTap }),
  /** The list of assets, locations or mounts changed: read `/api/assets` again. */
  Type.Object({ type: Type.Literal('assets-changed') }),
  /** A run began, ended or was changed: read `/api/runs/:id` again. */
  Type.Object({ type: Type.Literal('run-changed'), runId: Type.Integer(), assetId: Type.Integer() }),
  /** An alert came, went, was acknowledged or brought up to date: read `/api/alerts` again. */
  Type.Object({ type: Type.Literal('alerts-changed') }),
  /** Newest values that a vehicle sent of itself, at most twice a second. */
  Type.Object({
    type: Type.Literal('vehicle'),
    assetId: Type.Integer(),
    atMs: Type.Integer(),
    values: Type.Record(Type.String(), Type.Number()),
  }),
  /** Every 5 s, so that the page can tell a quiet sensor from a lost connection. */
  Type.Object({ type: Type.Literal('heartbeat'), nowMs: Type.Number() }),
]);
export type ServerMessage = Static<typeof ServerMessage>;

/** Browser to server: which location's waveform to send; null for none. */
export const ClientMessage = Type.Object({
  type: Type.Literal('watch'),
  locationId: Type.Union([Type.Integer(), Type.Null()]),
});
export type ClientMessage = Static<typeof ClientMessage>;
