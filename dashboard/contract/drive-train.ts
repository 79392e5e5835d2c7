/** What turns in an asset: shafts, couplings between them, bearings and where they are heard. */
import { type Static, Type } from 'typebox';
import { NumberOrNull } from './scalars.ts';

const Name = Type.String({ minLength: 1, maxLength: 60 });
const Teeth = Type.Integer({ minimum: 5, maximum: 1000 });
const Ratio = Type.Number({ exclusiveMinimum: 0, maximum: 1000 });
const closed = { additionalProperties: false };

const Coupling = Type.Union([
  Type.Object(
    {
      kind: Type.Literal('gears'),
      name: Name,
      driving: Name,
      driven: Name,
      drivingTeeth: Teeth,
      drivenTeeth: Teeth,
    },
    closed,
  ),
  /** Turns of the driving shaft per turn of the driven one: one, or one per gear that can be selected. */
  Type.Object(
    {
      kind: Type.Literal('ratio'),
      name: Name,
      driving: Name,
      driven: Name,
      ratio: Type.Union([Ratio, Type.Record(Type.String({ pattern: '^[0-9A-Za-z]{1,8}$' }), Ratio)]),
    },
    closed,
  ),
  /** Torque converter, clutch, belt: neither speed gives the other. */
  Type.Object({ kind: Type.Literal('slipping'), name: Name, driving: Name, driven: Name }, closed),
]);

const BearingEntry = Type.Object(
  {
    /** Where it is listened to. */
    locationId: Type.Integer({ minimum: 1 }),
    shaft: Name,
    /** A known designation, or "elements,element mm,pitch mm,angle degrees". */
    bearing: Type.String({ minLength: 1, maxLength: 60 }),
    outerRing: Type.Enum(['standing', 'turning']),
  },
  closed,
);
export type BearingEntry = Static<typeof BearingEntry>;

/** GET and PUT /api/assets/:id/drive-train -> DriveTrain. Before the first PUT it is empty. */
export const DriveTrain = Type.Object(
  {
    /** Speed of the first shaft on a machine that always turns at one speed; null elsewhere. */
    nominalSpeedRpm: Type.Union([Type.Number({ exclusiveMinimum: 0, maximum: 200_000 }), Type.Null()]),
    shafts: Type.Array(Name, { maxItems: 30 }),
    couplings: Type.Array(Coupling, { maxItems: 30 }),
    universalJoints: Type.Array(Type.Object({ name: Name, shaft: Name }, closed), { maxItems: 20 }),
    blades: Type.Array(
      Type.Object({ name: Name, shaft: Name, count: Type.Integer({ minimum: 2, maximum: 200 }) }, closed),
      { maxItems: 10 },
    ),
    /** Size as on the side wall, e.g. "205/65 R16": road speed then gives the speed of `shaft`. */
    tyre: Type.Union([
      Type.Object({ size: Type.String({ minLength: 1, maxLength: 40 }), shaft: Name }, closed),
      Type.Null(),
    ]),
    /** Which shaft each speed that a vehicle tells belongs to. */
    vehicleSpeeds: Type.Object(
      {
        engineSpeedRpm: Type.Optional(Name),
        turbineSpeedRpm: Type.Optional(Name),
        outputSpeedRpm: Type.Optional(Name),
      },
      closed,
    ),
    bearings: Type.Array(BearingEntry, { maxItems: 60 }),
  },
  closed,
);
export type DriveTrain = Static<typeof DriveTrain>;

/** GET /api/bearings -> KnownBearing[]: designations whose dimensions the station knows. */
export const KnownBearing = Type.Object({ designation: Type.String(), source: Type.String() });
export type KnownBearing = Static<typeof KnownBearing>;

const FoundLine = {
  kind: Type.String(),
  frequencyHz: Type.Number(),
  expectedHz: NumberOrNull,
  harmonics: Type.Integer(),
  /** Chance of this from noise, over everything searched. */
  falseAlarmProbability: Type.Number(),
};

const Finding = Type.Object({
  ...FoundLine,
  modulationDepth: NumberOrNull,
  bandHz: Type.Union([Type.Tuple([Type.Number(), Type.Number()]), Type.Null()]),
  note: Type.String(),
  rivals: Type.Array(Type.Object(FoundLine)),
});
export type Finding = Static<typeof Finding>;

const FindingVerdict = Type.Enum(['none', 'outer', 'inner', 'ball', 'cage', 'not-clear', 'not-covered']);
export type FindingVerdict = Static<typeof FindingVerdict>;

/** Where a speed came from. */
const SpeedSource = Type.Enum(['typed', 'nominal', 'vehicle', 'none']);

/** What one look at a location found, and under which conditions. */
export const FindingRecord = Type.Object({
  id: Type.Integer(),
  locationId: Type.Integer(),
  /** When it was looked for. */
  atMs: Type.Integer(),
  /** First sample and length of the stretch looked at. */
  startMs: Type.Integer(),
  durationS: Type.Number(),
  sampleRateHz: Type.Number(),
  nodeId: Type.String(),
  sensor: Type.Integer(),
  /** Null for looks that the station made of itself. */
  by: Type.Union([Type.String(), Type.Null()]),
  axis: Type.Enum(['single', 'x', 'y', 'z']),
  speedRpm: NumberOrNull,
  speedSource: SpeedSource,
  shaft: Type.Union([Type.String(), Type.Null()]),
  bearing: Type.Union([Type.String(), Type.Null()]),
  verdict: FindingVerdict,
  reason: Type.String(),
  findings: Type.Array(Finding),
  /** GET /api/findings/:id/picture, an SVG; kept for the newest looks of a location only. */
  picture: Type.Boolean(),
});
export type FindingRecord = Static<typeof FindingRecord>;

/**
 * POST /api/locations/:id/findings -> FindingRecord: looks now. GET -> FindingRecord[], newest first.
 * A run's vehicle data, or the asset's nominal speed, gives the speed where none is stated.
 */
export const FindingsRequest = Type.Object({
  /** End of the stretch, Unix ms; default: what has arrived by now. */
  toMs: Type.Optional(Type.Integer({ minimum: 1 })),
  seconds: Type.Optional(Type.Number({ minimum: 1, maximum: 60 })),
  /** Of the shaft the bearing sits on. */
  speedRpm: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 200_000 })),
});
export type FindingsRequest = Static<typeof FindingsRequest>;
