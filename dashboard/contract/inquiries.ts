/** Questions about the raw samples of runs, and their answers. */
import { type Static, Type } from 'typebox';
import { Id, Millis, NumberOrNull } from './scalars.ts';

const Hz = Type.Number({ exclusiveMinimum: 0, maximum: 100_000 });
const Axis = Type.Enum(['single', 'x', 'y', 'z']);
/** Answers carry more than is named here; what is named is what pages rest on. */
const OPEN = { additionalProperties: true };

const Verdict = Type.Object(
  {
    kind: Type.Enum(['leads', 'not-clear']),
    locationId: Type.Union([Type.String(), Type.Null()]),
    by: Type.Union([Type.Enum(['level', 'defect-line', 'both']), Type.Null()]),
    bandHz: Type.Union([Type.Array(Type.Number()), Type.Null()]),
    leadDb: NumberOrNull,
    uncertaintyDb: NumberOrNull,
    windowsLed: NumberOrNull,
    windows: Type.Number(),
    doubts: Type.Array(Type.String()),
    nextMeasurement: Type.Union([Type.Object({ code: Type.String(), text: Type.String() }), Type.Null()]),
    sentence: Type.String(),
  },
  OPEN,
);

const BandRow = Type.Object(
  {
    nominalHz: Type.Number(),
    fromHz: Type.Number(),
    toHz: Type.Number(),
    standsOut: Type.Boolean(),
    levels: Type.Array(
      Type.Object(
        {
          locationId: Type.String(),
          levelDb: Type.Number(),
          rmsMPerS2: Type.Number(),
          uncertaintyDb: Type.Number(),
          atMost: Type.Boolean(),
        },
        OPEN,
      ),
    ),
    leaderId: Type.String(),
    leadDb: Type.Number(),
    uncertaintyDb: Type.Number(),
    windowsLed: Type.Integer(),
  },
  OPEN,
);
export type BandRow = Static<typeof BandRow>;

const MarkChange = Type.Object(
  {
    locationId: Type.String(),
    nominalHz: Type.Number(),
    fromHz: Type.Number(),
    toHz: Type.Number(),
    changeDb: Type.Number(),
    uncertaintyDb: Type.Number(),
    significant: Type.Boolean(),
  },
  OPEN,
);

/**
 * POST /api/runs/:id/compare -> CompareResult: which location makes the noise. Marked seconds are compared over the
 * quiet ones. Levels in dB re 1 µm/s². GET /api/runs/:id/compare -> the last one, or null.
 */
export const CompareRequest = Type.Object({
  /** Only this part of the run (Unix ms), or one of its manoeuvres. */
  fromMs: Type.Optional(Millis),
  toMs: Type.Optional(Millis),
  manoeuvreId: Type.Optional(Id),
  /** Only this range, for example around a finding. */
  bandHz: Type.Optional(Type.Tuple([Hz, Hz])),
  /** The noise repeats at this rate: the size of its line is compared too. */
  defectHz: Type.Optional(Hz),
  /** Compare all seconds alike, whatever is marked. */
  ignoreMarks: Type.Optional(Type.Boolean()),
  /** Only these locations, for example those whose sensors reach higher. */
  locationIds: Type.Optional(Type.Array(Id, { minItems: 2, maxItems: 64 })),
});
export type CompareRequest = Static<typeof CompareRequest>;

export const CompareResult = Type.Object({
  madeMs: Millis,
  request: Type.Partial(CompareRequest),
  comparison: Type.Object(
    {
      bands: Type.Array(BandRow),
      toleranceDb: Type.Number(),
      windows: Type.Array(Type.Integer()),
      quietWindows: Type.Array(Type.Integer()),
      connections: Type.Array(
        Type.Object(
          {
            firstId: Type.String(),
            secondId: Type.String(),
            kind: Type.Enum(['shared', 'partly', 'separate', 'unknown']),
            /** Of waveforms, between locations of one board. */
            coherence: Type.Union([
              Type.Object({ mean: Type.Number(), chanceLimit: Type.Number() }, OPEN),
              Type.Null(),
            ]),
            /** Of levels over time, between boards. */
            comodulation: Type.Union([
              Type.Object({ correlation: Type.Number(), clockErrorMs: Type.Number() }, OPEN),
              Type.Null(),
            ]),
          },
          OPEN,
        ),
      ),
      /** Where a rate was stated: the size of its line at each location, carrier band by carrier band. */
      defectLine: Type.Union([
        Type.Object(
          {
            frequencyHz: Type.Number(),
            sizes: Type.Array(
              Type.Object({
                locationId: Type.String(),
                carriers: Type.Array(
                  /** `evidence`: -ln of the chance that noise makes this line. */
                  Type.Object({ amplitudeRmsMPerS2: Type.Number(), evidence: Type.Number() }, OPEN),
                ),
              }),
            ),
          },
          OPEN,
        ),
        Type.Null(),
      ]),
      verdict: Verdict,
      cautions: Type.Array(Type.String()),
    },
    OPEN,
  ),
  marks: Type.Union([
    Type.Object(
      { rises: Type.Array(MarkChange), changes: Type.Array(MarkChange), sentence: Type.String() },
      OPEN,
    ),
    Type.Null(),
  ]),
  seconds: Type.Array(Type.Integer()),
  noiseSeconds: Type.Integer(),
  quietSeconds: Type.Integer(),
  locations: Type.Array(
    Type.Object({
      locationId: Type.Integer(),
      name: Type.String(),
      board: Type.String(),
      sampleRateHz: Type.Number(),
      unusableSeconds: Type.Integer(),
    }),
  ),
  missing: Type.Array(
    Type.Object({ locationId: Type.Integer(), name: Type.String(), reason: Type.String() }),
  ),
  notes: Type.Array(Type.String()),
});
export type CompareResult = Static<typeof CompareResult>;
export type Connection = CompareResult['comparison']['connections'][number];

/** POST /api/runs/:id/peers -> PeersResult: the same location on other assets, newest run of the same
 * kind each, over seconds that were driven alike (speed, gear, load) where both vehicles told them. */
export const PeersRequest = Type.Object({ locationId: Id, manoeuvreId: Type.Optional(Id) });
export type PeersRequest = Static<typeof PeersRequest>;
export const PeersResult = Type.Object({
  peers: Type.Integer(),
  bands: Type.Array(
    Type.Object(
      {
        nominalHz: Type.Number(),
        peersDb: Type.Number(),
        differenceDb: Type.Number(),
        limitDb: Type.Number(),
        standing: Type.Enum(['above', 'below', 'alike']),
      },
      OPEN,
    ),
  ),
  sentence: Type.String(),
  assets: Type.Array(
    Type.Object({
      assetName: Type.String(),
      runId: Type.Integer(),
      seconds: Type.Integer(),
      /** What both vehicles told and was held alike. */
      compared: Type.Array(Type.String()),
    }),
  ),
  leftOut: Type.Array(
    Type.Object({ assetName: Type.String(), runId: Type.Integer(), reason: Type.String() }),
  ),
  notes: Type.Array(Type.String()),
});
export type PeersResult = Static<typeof PeersResult>;

/**
 * POST /api/runs/:id/follow -> FollowResult: which of the speeds that the vehicle told each tone at a location follows,
 * in the part of the run in which they varied most.
 */
export const FollowRequest = Type.Object({
  locationId: Id,
  fromMs: Type.Optional(Millis),
  toMs: Type.Optional(Millis),
  manoeuvreId: Type.Optional(Id),
});
export type FollowRequest = Static<typeof FollowRequest>;
export const FollowResult = Type.Object({
  /** Part looked into; null when nothing could be. */
  used: Type.Union([Type.Object({ fromMs: Type.Number(), toMs: Type.Number() }), Type.Null()]),
  axis: Type.String(),
  tones: Type.Array(
    Type.Object({
      frequencyHz: Type.Number(),
      amplitudeRms: Type.Number(),
      verdict: Type.Enum(['follows', 'no-speed', 'cannot-say']),
      speeds: Type.Array(Type.Object({ name: Type.String(), order: Type.Number() })),
      /** Share of records drawn anew from its blocks in which no other explanation fits as well. */
      confidence: Type.Number(),
      reason: Type.String(),
      loadCorrelation: NumberOrNull,
      sentence: Type.String(),
    }),
  ),
  sentence: Type.String(),
  notes: Type.Array(Type.String()),
});
export type FollowResult = Static<typeof FollowResult>;

/**
 * GET /api/runs/:id/sound?locationId&fromMs&toMs&axis&lowHz&highHz -> audio/wav, up to 120 s, and
 * GET /api/locations/:id/sound?fromMs&toMs&... of the last minutes. Sample k is the value at fromMs + k / rate, so that
 * sounds of several locations run in step. Headers: `clampline-full-scale-m-per-s2` (0: scale unknown),
 * `clampline-rms-m-per-s2`, `clampline-axis`, `clampline-recorded-to-hz`, `clampline-gap-ms`.
 */
const SoundPart = {
  fromMs: Millis,
  toMs: Millis,
  axis: Type.Optional(Axis),
  lowHz: Type.Optional(Hz),
  highHz: Type.Optional(Hz),
};
export const RunSoundQuery = Type.Object({ locationId: Id, ...SoundPart });
export const LiveSoundQuery = Type.Object(SoundPart);

/** GET /api/runs/:id/recording.wav?locationId (all axes as sampled) and recording.json (what a WAV file cannot say). */
export const RecordingQuery = Type.Object({
  locationId: Id,
  fromMs: Type.Optional(Millis),
  toMs: Type.Optional(Millis),
});

/** GET /api/runs/:id/spectrogram?locationId&axis -> Spectrogram. */
export const SpectrogramQuery = Type.Object({
  locationId: Id,
  axis: Type.Optional(Axis),
  fromMs: Type.Optional(Millis),
  toMs: Type.Optional(Millis),
});
export const Spectrogram = Type.Object({
  startMs: Type.Number(),
  columnMs: Type.Number(),
  columns: Type.Integer(),
  rows: Type.Integer(),
  stepHz: Type.Number(),
  lowDb: Type.Number(),
  stepDb: Type.Number(),
  unit: Type.String(),
  /** Base64: one byte per cell, column after column, lowest frequency first. Level = lowDb + byte x stepDb; 0: none. */
  levels: Type.String(),
});
export type Spectrogram = Static<typeof Spectrogram>;

const TapSpan = Type.Object({ locationId: Id, fromMs: Millis, toMs: Millis });
const RingMode = Type.Object(
  {
    frequencyHz: Type.Number(),
    frequencyUncertaintyHz: Type.Number(),
    dampingRatio: Type.Number(),
    dampingUncertainty: Type.Number(),
    raps: Type.Integer(),
    of: Type.Integer(),
  },
  OPEN,
);
export type RingMode = Static<typeof RingMode>;

/** POST /api/taps -> TapResult: raps at one location in a span of at most 60 s. */
export const TapRequest = TapSpan;
export type TapRequest = Static<typeof TapRequest>;
export const TapResult = Type.Object({
  raps: Type.Integer(),
  sampleRateHz: Type.Number(),
  axis: Type.String(),
  modes: Type.Array(RingMode),
  problem: Type.Union([Type.String(), Type.Null()]),
});
export type TapResult = Static<typeof TapResult>;

/** POST /api/taps/sides -> SidesResult: two like parts, left against right. */
export const SidesRequest = Type.Object({
  part: Type.String({ minLength: 1, maxLength: 60 }),
  left: TapSpan,
  right: TapSpan,
});
export type SidesRequest = Static<typeof SidesRequest>;
export const SidesResult = Type.Object(
  {
    pairs: Type.Array(
      Type.Object(
        {
          left: RingMode,
          right: RingMode,
          differenceHz: Type.Number(),
          uncertaintyHz: Type.Number(),
          frequencyDiffers: Type.Boolean(),
          dampingDiffers: Type.Boolean(),
        },
        OPEN,
      ),
    ),
    leftOnly: Type.Array(RingMode),
    rightOnly: Type.Array(RingMode),
    sentence: Type.String(),
  },
  OPEN,
);
export type SidesResult = Static<typeof SidesResult>;
