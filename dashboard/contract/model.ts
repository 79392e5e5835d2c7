/** What server and browser say to each other. Schemas and their types only; imports nothing of the project. */
import { type Static, Type } from 'typebox';
import { NodeHealth, Soundness } from './rig.ts';
import { NumberOrNull } from './scalars.ts';

/** Machine classes of ISO 10816-1 Annex B (secondary texts). */
export const MachineClass = Type.Enum(['I', 'II', 'III', 'IV']);
export type MachineClass = Static<typeof MachineClass>;

export const Zone = Type.Enum(['A', 'B', 'C', 'D']);
export type Zone = Static<typeof Zone>;

export const AxisReading = Type.Object({
  axis: Type.Enum(['single', 'x', 'y', 'z']),
  velocityRmsMmPerS: NumberOrNull,
  /** Expanded uncertainty of the velocity (k = 2, about 95 %). */
  velocityUncertaintyMmPerS: Type.Optional(NumberOrNull),
  accelerationRmsMPerS2: NumberOrNull,
  accelerationPeakMPerS2: NumberOrNull,
  crestFactor: NumberOrNull,
  kurtosis: NumberOrNull,
});
export type AxisReading = Static<typeof AxisReading>;

export const LocationReading = Type.Object({
  locationId: Type.Integer(),
  startMs: Type.Integer(),
  durationS: Type.Number(),
  sampleRateHz: Type.Number(),
  bandHz: Type.Tuple([Type.Number(), Type.Number()]),
  axes: Type.Array(AxisReading),
  /** Velocity RMS of the highest axis, which leads, as the standard has it; null while none is valid. */
  highest: Type.Union([
    Type.Object({
      axis: AxisReading.properties.axis,
      velocityRmsMmPerS: Type.Number(),
      velocityUncertaintyMmPerS: Type.Optional(NumberOrNull),
      zone: Zone,
    }),
    Type.Null(),
  ]),
  flags: Type.Array(Type.String()),
});
export type LocationReading = Static<typeof LocationReading>;

export const Location = Type.Object({
  id: Type.Integer(),
  name: Type.String(),
  /** Component the point sits on, e.g. "Rear axle". */
  component: Type.String(),
  /** The sensor mounted here now; null when none is. */
  mount: Type.Union([
    Type.Object({
      nodeId: Type.String(),
      sensor: Type.Integer(),
      /** Of the sensor, percent of a level; absent: not known, and a usual one is taken for it. */
      tolerancePct: Type.Optional(Type.Number()),
      /** Absent while it sits as it was set. Nobody has confirmed the mount since it turned. */
      turned: Type.Optional(Type.Object({ atMs: Type.Number(), turnedDeg: Type.Number() })),
    }),
    Type.Null(),
  ]),
  newest: Type.Union([LocationReading, Type.Null()]),
  /** What the newest look into the samples said, and since when every look has said so; null before the first. */
  finding: Type.Optional(
    Type.Union([
      Type.Object({
        verdict: Type.String(),
        sinceMs: Type.Integer(),
        bearing: Type.Union([Type.String(), Type.Null()]),
      }),
      Type.Null(),
    ]),
  ),
});
export type Location = Static<typeof Location>;

export const Asset = Type.Object({
  id: Type.Integer(),
  name: Type.String(),
  kind: Type.Enum(['vehicle', 'machine']),
  machineClass: MachineClass,
  locations: Type.Array(Location),
});
export type Asset = Static<typeof Asset>;

export const NodeSummary = Type.Object({
  nodeId: Type.String(),
  label: Type.String(),
  sensors: Type.Array(
    Type.Object({ sensor: Type.Integer(), locationId: Type.Union([Type.Integer(), Type.Null()]) }),
  ),
  lastSeenMs: NumberOrNull,
  soundness: Type.Optional(Soundness),
  /** Absent while the collector has not told. */
  health: Type.Optional(NodeHealth),
});
export type NodeSummary = Static<typeof NodeSummary>;

export const TrendValue = Type.Enum([
  'velocityRmsMmPerS',
  'accelerationRmsMPerS2',
  'accelerationPeakMPerS2',
  'crestFactor',
  'kurtosis',
]);
export type TrendValue = Static<typeof TrendValue>;

export const Trend = Type.Object({
  timeMs: Type.Array(Type.Number()),
  value: Type.Array(NumberOrNull),
  minimum: Type.Array(NumberOrNull),
  maximum: Type.Array(NumberOrNull),
  count: Type.Array(Type.Integer()),
  flagged: Type.Array(Type.Integer()),
  /** Which sensor stood at the location when: no slot mixes two of them, and levels may step between them. */
  stretches: Type.Optional(
    Type.Array(
      Type.Object({
        nodeId: Type.String(),
        sensor: Type.Integer(),
        fromMs: Type.Number(),
        toMs: Type.Number(),
        /** `turned`: the mount had turned; else a person set or confirmed it. */
        beganBy: Type.Optional(Type.Enum(['person', 'turned'])),
      }),
    ),
  ),
});
export type Trend = Static<typeof Trend>;

export const KeptSpectrum = Type.Object({
  /** Null when none was kept of this span; then the nearest kept minute is named. */
  spectrum: Type.Union([
    Type.Object({
      /** Minutes that went in, first beginning to last end. */
      fromMs: Type.Integer(),
      toMs: Type.Integer(),
      /** Sound seconds averaged. */
      seconds: Type.Integer(),
      /** The sensor that measured it, and since when it had stood there. */
      mount: Type.Object({ nodeId: Type.String(), sensor: Type.Integer(), sinceMs: Type.Integer() }),
      /** Edges of the bands, a twelfth of an octave each: one more than there are bands. */
      edgesHz: Type.Array(Type.Number()),
      /** Acceleration of each band, m/s² RMS. */
      axes: Type.Array(Type.Object({ axis: Type.String(), rmsMPerS2: Type.Array(Type.Number()) })),
    }),
    Type.Null(),
  ]),
  nearestMs: Type.Union([Type.Integer(), Type.Null()]),
});
export type KeptSpectrum = Static<typeof KeptSpectrum>;

export const SessionState = Type.Object({
  /** No person exists yet: only the setup link opens the station. */
  setupNeeded: Type.Boolean(),
  person: Type.Union([
    Type.Object({ name: Type.String(), role: Type.Enum(['shop', 'technician']) }),
    Type.Null(),
  ]),
  site: Type.String(),
  /** Present where the station shares a database with other sites: whether it may ask it, or only write to it. */
  sites: Type.Optional(Type.Enum(['readable', 'write-only'])),
  /** Server clock, so that the browser can show ages by the station's time. */
  nowMs: Type.Number(),
  /** The demo's virtual nodes are running. */
  demo: Type.Boolean(),
  /** Share of the demo's twenty weeks of history that is filled in; absent without a demo. */
  demoHistoryShare: Type.Optional(Type.Number()),
});
export type SessionState = Static<typeof SessionState>;

/** Every error of the HTTP interface: what was wrong, where, and what to do. */
export const ApiError = Type.Object({
  code: Type.String(),
  message: Type.String(),
  remedy: Type.Optional(Type.String()),
  /** The field that cannot be used, as a path: "mount.sensor". */
  field: Type.Optional(Type.String()),
});
export type ApiError = Static<typeof ApiError>;
