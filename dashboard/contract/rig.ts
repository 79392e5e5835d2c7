/** Nodes and how they do: health, taps, gravity checks, and what a node must know to connect. Schemas and types. */
import { type Static, Type } from 'typebox';
import { NumberOrNull, OrNull } from './scalars.ts';

const Vector = Type.Tuple([Type.Number(), Type.Number(), Type.Number()]);

/** One reason why a node is not sound (`fault`) or to be watched. Codes are stable; the page has words for them. */
export const SoundnessReason = Type.Object({
  code: Type.String(),
  severity: Type.Enum(['fault', 'watch']),
  /** Null: the whole node. */
  sensor: OrNull(Type.Integer()),
  /** In the unit that the code implies: percent, seconds, milliseconds, dBm or a count. */
  value: NumberOrNull,
  limit: NumberOrNull,
});
export type SoundnessReason = Static<typeof SoundnessReason>;

export const Soundness = Type.Object({
  /** `unknown`: readings come, but the collector has not said how the node does. */
  verdict: Type.Enum(['sound', 'watch', 'not-sound', 'unknown']),
  reasons: Type.Array(SoundnessReason),
});
export type Soundness = Static<typeof Soundness>;

export const SensorHealth = Type.Object({
  sensor: Type.Integer(),
  newestMs: Type.Number(),
  nominalRateHz: Type.Number(),
  /** Null until the station knows it to 0.05 %. */
  trueRateHz: NumberOrNull,
  flags: Type.Array(Type.String()),
  /** Mean acceleration along x, y, z; null for a single axis. */
  gravityMPerS2: OrNull(Vector),
  /** Seconds measured in the last 10 to 20 minutes, and those that were clipped. */
  recentSeconds: Type.Integer(),
  clippedSeconds: Type.Integer(),
  /** Of them, those in which it banged in its clamp. */
  rattlingSeconds: Type.Optional(Type.Integer()),
  /** The quietest second of the last 12 to 24 hours: the sensor's own noise is no more than this. */
  quietest: OrNull(
    Type.Object({
      startMs: Type.Number(),
      accelerationRmsMPerS2: Type.Number(),
      noiseDensityUmPerS2PerRtHz: Type.Number(),
    }),
  ),
});
export type SensorHealth = Static<typeof SensorHealth>;

/** What the collector knows of a node. Null inside `status`: the node does not say. */
export const NodeHealth = Type.Object({
  nodeId: Type.String({ pattern: '^[0-9a-f]{16}$' }),
  atMs: Type.Number(),
  status: OrNull(
    Type.Object({
      arrivedMs: Type.Number(),
      state: Type.Enum(['offline', 'sampling', 'stopped', 'asleep']),
      batteryPercent: NumberOrNull,
      batteryMilliVolt: NumberOrNull,
      bufferFillPermille: NumberOrNull,
      temperatureC: NumberOrNull,
      signalDbm: NumberOrNull,
      resolutionBits: NumberOrNull,
      fullScaleMPerS2: NumberOrNull,
      noiseDensityUmPerS2PerRtHz: NumberOrNull,
      sensorBandwidthHz: NumberOrNull,
      nextStatusWithinS: NumberOrNull,
      firmwareVersion: Type.String(),
      sensorPart: Type.String(),
    }),
  ),
  /** Since the node last started. Missing packets are lost, given up by the node, or still under way. */
  boot: OrNull(
    Type.Object({
      bootId: Type.Integer(),
      startedMs: Type.Number(),
      resetCause: OrNull(Type.String()),
      packetsReceived: Type.Integer(),
      packetsMissing: Type.Integer(),
      packetsDropped: Type.Integer(),
      overruns: Type.Integer(),
    }),
  ),
  clock: Type.Object({
    source: Type.Enum(['free', 'synced', 'replay']),
    exchangedMs: NumberOrNull,
    uncertaintyMs: NumberOrNull,
    /** Above 0: the node's clock runs fast. */
    errorPpm: NumberOrNull,
  }),
  sensors: Type.Array(SensorHealth, { maxItems: 16 }),
});
export type NodeHealth = Static<typeof NodeHealth>;

/** A tap as one sensor felt it. */
export const Tap = Type.Object({
  nodeId: Type.String({ pattern: '^[0-9a-f]{16}$' }),
  /** Null: the node does not say which. */
  sensor: OrNull(Type.Integer({ minimum: 0, maximum: 15 })),
  atMs: Type.Integer(),
  peakMPerS2: NumberOrNull,
  /** Found in the samples by the station, or told by the node. */
  source: Type.Enum(['samples', 'node']),
  /** False: the machine was running, and this may be no tap. Null: not known. */
  atRest: OrNull(Type.Boolean()),
});

/** One rap and all that felt it, the strongest first. GET /api/felt-taps -> FeltTap[], oldest first, of the last minutes. */
export const FeltTap = Type.Object({
  id: Type.Integer(),
  atMs: Type.Integer(),
  felt: Type.Array(Tap),
  /** The strongest felt at least twice what any other did. */
  clear: Type.Boolean(),
});
export type FeltTap = Static<typeof FeltTap>;

/** GET /api/station -> StationAddress: what a node must know to connect. */
export const StationAddress = Type.Object({
  site: Type.String(),
  mqtt: Type.Object({
    /** Addresses of this station, the likeliest first. */
    hosts: Type.Array(Type.String()),
    port: Type.Integer(),
    tls: Type.Boolean(),
    /** With TLS: fingerprint of the certificate to trust (SHA-256 of its DER form), and the certificate. */
    certificateSha256: OrNull(Type.String()),
    certificatePem: OrNull(Type.String()),
    /** The port listens on this computer only: nodes elsewhere do not reach it. */
    thisComputerOnly: Type.Boolean(),
  }),
});
export type StationAddress = Static<typeof StationAddress>;

/** GET /api/nodes/refused -> RefusedLogin[]: who tried to connect and was not let in, newest first. */
export const RefusedLogin = Type.Object({
  /** Null: under a name that is no node's. */
  nodeId: OrNull(Type.String()),
  address: Type.String(),
  attempts: Type.Integer(),
  lastMs: Type.Number(),
  /** Unknown to this station, revoked, or known but with a wrong password. */
  why: Type.Enum(['unknown', 'revoked', 'wrong-password']),
});
export type RefusedLogin = Static<typeof RefusedLogin>;

/** PUT /api/nodes/:nodeId/sensors/:sensor -> SensorRecord. */
export const SensorRequest = Type.Object({
  part: Type.String({ maxLength: 80 }),
  serial: Type.String({ maxLength: 80 }),
  noiseDensityUmPerS2PerRtHz: OrNull(Type.Number({ exclusiveMinimum: 0, maximum: 1e6 })),
  /** Of the data sheet, percent of the level. */
  tolerancePct: OrNull(Type.Number({ exclusiveMinimum: 0, maximum: 100 })),
});
export type SensorRequest = Static<typeof SensorRequest>;

/** Result of a gravity check in six positions. Levels are not corrected by it: it is the sensor's tolerance. */
export const GravityCheckResult = Type.Object({
  atMs: Type.Number(),
  /** What the sensor reads for 1 m/s², along x, y, z; and without any acceleration. */
  scale: Vector,
  offsetMPerS2: Vector,
  /** Null: no slanted position was held, so nothing was left to check. */
  residualMPerS2: NumberOrNull,
  positions: Type.Integer(),
  tolerancePct: Type.Number(),
});
export type GravityCheckResult = Static<typeof GravityCheckResult>;

/**
 * POST /api/nodes/:nodeId/sensors/:sensor/shaker-check -> SensorRecord: the sensor's newest seconds against a reference
 * shaker that it sits on.
 */
export const ShakerReference = Type.Object({
  frequencyHz: Type.Number({ minimum: 12.5, maximum: 800 }),
  accelerationRmsMPerS2: Type.Number({ minimum: 0.5, maximum: 200 }),
  /** Largest error of the reference itself, percent. */
  tolerancePct: Type.Number({ minimum: 0.1, maximum: 20 }),
});
export type ShakerReference = Static<typeof ShakerReference>;
export const ShakerCheckResult = Type.Object({
  atMs: Type.Number(),
  reference: ShakerReference,
  axis: Type.String(),
  seconds: Type.Integer(),
  measuredRmsMPerS2: Type.Number(),
  deviationPct: Type.Number(),
  /** Largest second less smallest, percent. */
  spreadPct: Type.Number(),
  tolerancePct: Type.Number(),
});
export type ShakerCheckResult = Static<typeof ShakerCheckResult>;

/** What is known of one sensor as a thing. GET /api/sensors -> SensorRecord[]. */
export const SensorRecord = Type.Object({
  nodeId: Type.String(),
  sensor: Type.Integer(),
  part: Type.String(),
  serial: Type.String(),
  noiseDensityUmPerS2PerRtHz: NumberOrNull,
  /** What holds now: of the newest check of either kind, else of the data sheet; null when none is known. */
  tolerancePct: NumberOrNull,
  dataSheetTolerancePct: NumberOrNull,
  gravityCheck: OrNull(GravityCheckResult),
  shakerCheck: OrNull(ShakerCheckResult),
});
export type SensorRecord = Static<typeof SensorRecord>;

/**
 * Guided gravity check of one sensor, all below /api/nodes/:nodeId/sensors/:sensor/gravity-check: POST begins it anew,
 * GET tells how far it is, POST .../save keeps the result, DELETE gives it up.
 */
export const GravityCheckState = Type.Object({
  positions: Type.Array(
    Type.Object({ face: OrNull(Type.String()), seconds: Type.Integer(), meanMPerS2: Vector }),
  ),
  /** Seconds the sensor has lain still; 0 while it moves. */
  stillSeconds: Type.Integer(),
  /** Seconds to lie still for a position to count. */
  holdSeconds: Type.Integer(),
  /** Mean acceleration of the newest second. */
  newestMPerS2: OrNull(Vector),
  result: OrNull(GravityCheckResult),
});
export type GravityCheckState = Static<typeof GravityCheckState>;

/** GET /api/settings -> StationSettings. PUT /api/settings (role shop). */
export const StationSettings = Type.Object({
  /** A mount that turns by more is called moved. */
  mountTurnDeg: Type.Number({ minimum: 3, maximum: 45 }),
});
export type StationSettings = Static<typeof StationSettings>;
