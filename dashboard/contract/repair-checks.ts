/** Did the repair help? Like compared with like, against a criterion stated beforehand. */
import { type Static, Type } from 'typebox';
import { TrendValue } from './model.ts';
import { Id, Millis, MillisOrNull, NumberOrNull, SomeText, Text, TextOrNull } from './scalars.ts';

/** Runs chosen by hand; null: all that there are. */
const Chosen = Type.Union([Type.Array(Id, { maxItems: 200 }), Type.Null()]);

/** POST /api/assets/:id/repair-checks -> RepairCheck. GET -> RepairCheck[], newest first. */
export const RepairCheckRequest = Type.Object({
  locationId: Id,
  value: TrendValue,
  /** Passed when the level is lower by at least this, dB (6 dB is half). */
  leastFallDb: Type.Number({ exclusiveMinimum: 0, maximum: 60 }),
  statedBy: SomeText(120),
  note: Text(500),
});
export type RepairCheckRequest = Static<typeof RepairCheckRequest>;

/** POST /api/repair-checks/:id/repair -> RepairCheck: notes the repair as an event of the asset; a new baseline begins. */
export const RepairDone = Type.Object({
  /** Left out: now. */
  atMs: Type.Optional(Millis),
  note: Text(300),
  /** Where the sensor was off for the repair: it sits at the same marked spot in the same direction again. */
  sensorPutBack: Type.Boolean(),
});
export type RepairDone = Static<typeof RepairDone>;

/** PUT /api/repair-checks/:id/runs -> RepairCheck. */
export const RepairRuns = Type.Object({ before: Chosen, after: Chosen });
export type RepairRuns = Static<typeof RepairRuns>;

export const RepairResult = Type.Object({
  verdict: Type.Enum(['passed', 'not-passed', 'cannot-say']),
  /** After against before, dB; negative is quieter. Null: not compared. */
  changeDb: NumberOrNull,
  /** 95 % interval. */
  lowDb: NumberOrNull,
  highDb: NumberOrNull,
  /** Runs of each condition on each side. */
  bins: Type.Array(
    Type.Object({
      bin: Type.String(),
      before: Type.Integer(),
      after: Type.Integer(),
      changeDb: NumberOrNull,
    }),
  ),
  /** False: runs it is judged by had been made before the criterion was stated. */
  statedBeforehand: Type.Boolean(),
  sentence: Type.String(),
});
export type RepairResult = Static<typeof RepairResult>;

const ChosenRun = Type.Object({
  runId: Id,
  timeMs: Type.Number(),
  bin: Type.String(),
  level: Type.Number(),
  taken: Type.Boolean(),
});

export const RepairCheck = Type.Object({
  id: Id,
  assetId: Id,
  ...RepairCheckRequest.properties,
  location: Type.String(),
  statedMs: Millis,
  /** Null: not noted yet. */
  repairedMs: MillisOrNull,
  repairNote: TextOrNull,
  sensorPutBack: Type.Boolean(),
  /** Runs of a vehicle that could be compared, oldest first; empty for a machine, of which days count. */
  before: Type.Array(ChosenRun),
  after: Type.Array(ChosenRun),
  result: RepairResult,
  /** POST /api/repair-checks/:id/conclude -> RepairCheck: from then on the result stays as it was. */
  concludedMs: MillisOrNull,
  concludedBy: TextOrNull,
});
export type RepairCheck = Static<typeof RepairCheck>;
