/** Runs: a vehicle or machine driven or run on purpose, with what was felt and measured meanwhile. */
import { type Static, Type } from 'typebox';
import { Id, Millis, MillisOrNull, NumberOrNull, Text } from './scalars.ts';

/** On the road, on a lift with turning wheels, or on a bench (also: a machine in its place). */
export const RunKind = Type.Enum(['road', 'lift', 'bench']);
export type RunKind = Static<typeof RunKind>;

export const ManoeuvreId = Type.Enum([
  'steady-cruise',
  'pull-under-load',
  'coast-in-gear',
  'coast-in-neutral',
  'engine-at-rest',
  'other-gear',
]);
export type ManoeuvreId = Static<typeof ManoeuvreId>;

/** What the person who complains says. Free text: people do not speak in categories. */
export const Complaint = Type.Object({
  description: Text(1000),
  when: Text(200),
  speed: Text(200),
  load: Text(200),
  gear: Text(200),
  hotOrCold: Text(200),
  recentWork: Text(500),
});
export type Complaint = Static<typeof Complaint>;

/** Cheap checks, done before anything is measured or taken apart. */
export const CheckId = Type.Enum(['fluid', 'play', 'mounts', 'shields', 'tyre-swap']);
export type CheckId = Static<typeof CheckId>;
export const Check = Type.Object({
  id: CheckId,
  state: Type.Enum(['not-done', 'in-order', 'fault-found']),
  note: Text(300),
});
export type Check = Static<typeof Check>;

/** A stored trouble code of the vehicle, as supporting evidence: it names the circuit that noticed, not the part. */
export const TroubleCode = Type.Object({
  code: Type.String(),
  /** The standard's generic meaning; null where none is kept here. */
  meaning: Type.Union([Type.String(), Type.Null()]),
  /** What it may support. Never a verdict. */
  supports: Type.Union([Type.String(), Type.Null()]),
  provenance: Type.String(),
});
export type TroubleCode = Static<typeof TroubleCode>;

export const Outcome = Type.Enum(['reproduced', 'could-not-reproduce', 'aborted']);
export type Outcome = Static<typeof Outcome>;

/** A moment, or a stretch of time, flagged by a person: the noise is there. */
export const NoiseMark = Type.Object({
  id: Id,
  atMs: Millis,
  /** Last moment, when the button was held; null for a single press. */
  endMs: MillisOrNull,
  source: Type.Enum(['button', 'key', 'node', 'import']),
  note: Text(300),
  by: Text(80),
});
export type NoiseMark = Static<typeof NoiseMark>;

export const RunManoeuvre = Type.Object({
  id: Id,
  manoeuvre: ManoeuvreId,
  startMs: Millis,
  endMs: MillisOrNull,
  /** Whether the noise was there, as people heard it; null: not said yet. */
  noise: Type.Union([Type.Enum(['present', 'absent', 'unclear']), Type.Null()]),
  /** For another gear at the same road speed. */
  pitch: Type.Union([Type.Enum(['same', 'changed']), Type.Null()]),
});
export type RunManoeuvre = Static<typeof RunManoeuvre>;

/** What a vehicle says of itself. */
export const VehicleQuantity = Type.Enum([
  'engineSpeedRpm',
  'turbineSpeedRpm',
  'outputSpeedRpm',
  'roadSpeedKmH',
  'engineLoadPercent',
  'coolantTemperatureC',
  'gear',
]);
export type VehicleQuantity = Static<typeof VehicleQuantity>;

export const RunSummary = Type.Object({
  id: Id,
  assetId: Id,
  kind: RunKind,
  startMs: Millis,
  /** Null while it is under way. */
  endMs: MillisOrNull,
  operator: Text(80),
  odometerKm: NumberOrNull,
  notes: Text(4000),
  outcome: Type.Union([Outcome, Type.Null()]),
  /** Its raw samples are kept, whatever the journal's age and size. */
  kept: Type.Boolean(),
  /** Recorded by this station, or read from a file. */
  source: Type.Enum(['station', 'import']),
  markCount: Type.Integer(),
});
export type RunSummary = Static<typeof RunSummary>;

export const RunLocation = Type.Object({ id: Id, name: Type.String(), component: Type.String() });
export type RunLocation = Static<typeof RunLocation>;

export const Run = Type.Object({
  ...RunSummary.properties,
  complaint: Complaint,
  checks: Type.Array(Check),
  troubleCodes: Type.Array(TroubleCode),
  marks: Type.Array(NoiseMark),
  manoeuvres: Type.Array(RunManoeuvre),
  /** Newest value and number of values of each quantity. */
  vehicle: Type.Array(
    Type.Object({
      quantity: VehicleQuantity,
      count: Type.Integer(),
      newest: Type.Number(),
      newestMs: Millis,
    }),
  ),
  /** Locations that had a sensor during the run. */
  locations: Type.Array(RunLocation),
});
export type Run = Static<typeof Run>;

/**
 * POST /api/runs -> Run. GET /api/runs?assetId -> RunSummary[], newest first. GET and DELETE /api/runs/:id.
 * POST /api/runs/:id/end -> Run. One run of an asset is under way at a time.
 */
export const RunRequest = Type.Object({
  assetId: Id,
  kind: RunKind,
  odometerKm: Type.Optional(Type.Union([Type.Number({ minimum: 0, maximum: 1e7 }), Type.Null()])),
  complaint: Type.Optional(Type.Partial(Complaint)),
  notes: Type.Optional(Text(4000)),
});
export type RunRequest = Static<typeof RunRequest>;

export const RunsQuery = Type.Object({ assetId: Type.Optional(Id) });

/** PATCH /api/runs/:id -> Run. Fields that are left out stay; of complaint and checks too. */
export const RunChange = Type.Object({
  odometerKm: Type.Union([Type.Number({ minimum: 0, maximum: 1e7 }), Type.Null()]),
  notes: Text(4000),
  complaint: Type.Partial(Complaint),
  checks: Type.Array(Check, { maxItems: 10 }),
  /** All of them: "P0741". */
  troubleCodes: Type.Array(Text(20), { maxItems: 30 }),
  outcome: Type.Union([Outcome, Type.Null()]),
  kept: Type.Boolean(),
});
export type RunChange = Static<typeof RunChange>;

/** POST /api/runs/:id/marks -> Run. `atMs` is station time; left out: now. DELETE /api/runs/:id/marks/:part. */
export const MarkRequest = Type.Object({
  atMs: Type.Optional(Millis),
  endMs: Type.Optional(MillisOrNull),
  source: Type.Enum(['button', 'key']),
  note: Type.Optional(Text(300)),
});
export type MarkRequest = Static<typeof MarkRequest>;

/** PATCH /api/runs/:id/marks/:part -> Run. */
export const MarkChange = Type.Object({ endMs: Millis, note: Text(300) });
export type MarkChange = Static<typeof MarkChange>;

/** POST /api/runs/:id/manoeuvres begins one and ends the one before -> Run. */
export const ManoeuvreRequest = Type.Object({ manoeuvre: ManoeuvreId });
export type ManoeuvreRequest = Static<typeof ManoeuvreRequest>;

/** PATCH /api/runs/:id/manoeuvres/:part -> Run. `ended` ends it now. */
export const ManoeuvreChange = Type.Object({
  ended: Type.Literal(true),
  noise: Type.Union([Type.Enum(['present', 'absent', 'unclear']), Type.Null()]),
  pitch: Type.Union([Type.Enum(['same', 'changed']), Type.Null()]),
});
export type ManoeuvreChange = Static<typeof ManoeuvreChange>;

/** GET /api/manoeuvres -> ManoeuvreGuide[]: what to do, and what it tells apart. */
export const ManoeuvreGuide = Type.Object({
  id: ManoeuvreId,
  title: Type.String(),
  instruction: Type.String(),
  separates: Type.String(),
  durationS: Type.Number(),
  cautions: Type.Array(Type.String()),
});
export type ManoeuvreGuide = Static<typeof ManoeuvreGuide>;

/** Values of one instant. `answer`: what the diagnostic connector answered to service 01, as hexadecimal bytes. */
export const VehicleSample = Type.Object(
  {
    atMs: Type.Optional(Millis),
    engineSpeedRpm: Type.Optional(Type.Number({ minimum: 0, maximum: 30_000 })),
    turbineSpeedRpm: Type.Optional(Type.Number({ minimum: 0, maximum: 30_000 })),
    outputSpeedRpm: Type.Optional(Type.Number({ minimum: 0, maximum: 30_000 })),
    roadSpeedKmH: Type.Optional(Type.Number({ minimum: 0, maximum: 500 })),
    engineLoadPercent: Type.Optional(Type.Number({ minimum: 0, maximum: 200 })),
    coolantTemperatureC: Type.Optional(Type.Number({ minimum: -60, maximum: 250 })),
    gear: Type.Optional(Type.Number({ minimum: -2, maximum: 30 })),
    answer: Type.Optional(Text(200)),
  },
  { additionalProperties: false, minProperties: 1 },
);
export type VehicleSample = Static<typeof VehicleSample>;

/**
 * POST /api/assets/:id/vehicle -> { taken }: into the run that is under way (none: 0, nothing is kept).
 * POST /api/runs/:id/vehicle -> { taken }. The same object as JSON on the MQTT topic clampline/<site>/vehicle/<asset id>.
 * POST /api/runs/:id/vehicle-file (text/csv) -> { taken }.
 */
export const VehicleRequest = Type.Object({
  samples: Type.Array(VehicleSample, { minItems: 1, maxItems: 500 }),
});
export type VehicleRequest = Static<typeof VehicleRequest>;
export const VehicleTaken = Type.Object({ taken: Type.Integer() });

/** GET /api/runs/:id/vehicle -> VehicleSeries[]. */
export const VehicleSeries = Type.Object({
  quantity: VehicleQuantity,
  atMs: Type.Array(Millis),
  value: Type.Array(Type.Number()),
});
export type VehicleSeries = Static<typeof VehicleSeries>;

/** GET /api/runs/:id/suspects -> SuspectReview: what the manoeuvres leave standing. Support, never a verdict. */
export const SuspectReview = Type.Object({
  suspects: Type.Array(
    Type.Object({
      id: Type.String(),
      title: Type.String(),
      follows: Type.String(),
      standing: Type.Enum(['stays', 'weakened', 'unlikely']),
      supports: Type.Array(Type.String()),
      against: Type.Array(Type.String()),
    }),
  ),
  inseparable: Type.Array(Type.String()),
  nextManoeuvre: Type.Union([ManoeuvreId, Type.Null()]),
  sentence: Type.String(),
});
export type SuspectReview = Static<typeof SuspectReview>;

/** GET /api/vehicle-account (role shop): how an adapter at a vehicle's diagnostic connector reaches the broker. */
export const VehicleAccount = Type.Object({
  username: Type.String(),
  password: Type.Union([Type.String(), Type.Null()]),
  /** Ends in the asset's number. */
  topic: Type.String(),
});
export type VehicleAccount = Static<typeof VehicleAccount>;

/**
 * Recordings made elsewhere, in two steps. POST /api/recordings (audio/wav, or text/csv with a time column and
 * acceleration columns at one steady rate; up to 64 MiB) -> RecordingTaken. POST /api/runs/import -> Run, which can then
 * be compared and listened to as any other. A recording that no run names within a day is removed.
 */
export const RecordingTaken = Type.Object({
  recordingId: Type.String({ pattern: '^[0-9a-f]{32}$' }),
  channels: Type.Array(Type.String()),
  sampleRateHz: Type.Number(),
  durationS: Type.Number(),
  startMs: MillisOrNull,
  /** Known for CSV only: its values carry their unit. */
  fullScaleMPerS2: NumberOrNull,
});
export type RecordingTaken = Static<typeof RecordingTaken>;

export const ImportRequest = Type.Object({
  recordingId: RecordingTaken.properties.recordingId,
  assetId: Id,
  kind: RunKind,
  /** Default: what the file says, else now minus its length. */
  startMs: Type.Optional(Millis),
  /** True rate, where it is known better than the file's; within 10 % of it. */
  sampleRateHz: Type.Optional(Type.Number({ exclusiveMinimum: 0 })),
  /** Value at digital full scale; needed for WAV. */
  fullScale: Type.Optional(Type.Number({ exclusiveMinimum: 0 })),
  unit: Type.Optional(Type.Enum(['g', 'm/s2'])),
  /** Where each channel was measured; channels that are not named are left out. Counted from 0. */
  channels: Type.Array(
    Type.Object({
      channel: Type.Integer({ minimum: 0, maximum: 63 }),
      locationId: Id,
      axis: Type.Enum(['single', 'x', 'y', 'z']),
    }),
    { minItems: 1, maxItems: 64 },
  ),
  /** Noise marks, in seconds from the start. */
  marks: Type.Optional(
    Type.Array(Type.Object({ fromS: Type.Number({ minimum: 0 }), toS: Type.Number({ minimum: 0 }) }), {
      maxItems: 200,
    }),
  ),
  notes: Type.Optional(Text(4000)),
});
export type ImportRequest = Static<typeof ImportRequest>;
