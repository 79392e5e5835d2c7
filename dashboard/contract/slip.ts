/** Slip of torque converter and clutches over a run, from the speeds that the vehicle told. */
import { type Static, Type } from 'typebox';
import { Millis, NumberOrNull } from './scalars.ts';

/** POST /api/runs/:id/slip -> SlipResult. */
export const SlipRequest = Type.Object({
  fromMs: Type.Optional(Millis),
  toMs: Type.Optional(Millis),
  manoeuvreId: Type.Optional(Type.Integer({ minimum: 1 })),
  /** What the lock-up clutch did: closed, slipping on purpose, or open. Default: open, of which most is usual. */
  converter: Type.Optional(Type.Enum(['locked', 'controlled', 'open'])),
  /** Input turns per output turn, one gear throughout. Default: by the gear told and the asset's drive train. */
  gearRatio: Type.Optional(Type.Number({ exclusiveMinimum: 0, maximum: 1000 })),
});
export type SlipRequest = Static<typeof SlipRequest>;

const SlipOverRun = Type.Object({
  driving: Type.String(),
  driven: Type.String(),
  answer: Type.Enum(['slip', 'cannot-say']),
  slipRpm: NumberOrNull,
  /** Twice the standard deviation. */
  uncertaintyRpm: NumberOrNull,
  slipPercent: NumberOrNull,
  /** Where nine in ten moments lie. */
  rangeRpm: Type.Union([Type.Tuple([Type.Number(), Type.Number()]), Type.Null()]),
  /** Moments that could be judged, of all at which both speeds were told. */
  moments: Type.Integer(),
  of: Type.Integer(),
  usual: Type.Union([Type.Object({ text: Type.String(), provenance: Type.String() }), Type.Null()]),
  against: Type.Union([Type.Enum(['within', 'outside', 'not-certain']), Type.Null()]),
  sentence: Type.String(),
});

export const SlipResult = Type.Object({ converter: SlipOverRun, clutch: SlipOverRun });
export type SlipResult = Static<typeof SlipResult>;
