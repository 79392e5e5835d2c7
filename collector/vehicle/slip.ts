/** Slip of a torque converter and of gearbox clutches, from shaft speeds. */

export interface ShaftSpeedValue {
  rpm: number;
  /** Smallest step the speed can take. */
  resolutionRpm: number;
  /** 'road-speed' where it was worked out from whole km/h: never good enough for slip. */
  from: 'shaft-sensor' | 'engine-data' | 'road-speed';
  /** How fast it changes, rpm per second, and how far apart in time the two speeds may have been read. */
  changeRpmPerS?: number;
}

interface NormalRange {
  text: string;
  fromRpm: number;
  toRpm: number;
  provenance: 'common practice, no source';
}

export type Slip =
  | {
      answer: 'slip';
      /** Driving minus driven side; below 0 where the vehicle drives the engine. */
      slipRpm: number;
      /** Of the driving side's speed. */
      slipPercent: number;
      /** Expanded uncertainty (twice the standard deviation). */
      uncertaintyRpm: number;
      /** Shown beside the value; a hint, not a limit. */
      normal: NormalRange;
      against: 'within' | 'outside' | 'not-certain';
    }
  | { answer: 'cannot-say'; reason: string };

export type ConverterState = 'locked' | 'controlled' | 'open';

const COMMON = 'common practice, no source' as const;
const CONVERTER_NORMAL: Readonly<Record<ConverterState, (drivingRpm: number) => NormalRange>> = {
  locked: () => ({
    text: 'lock-up clutch closed: within 20 rpm of 0',
    fromRpm: -20,
    toRpm: 20,
    provenance: COMMON,
  }),
  controlled: () => ({
    text: 'lock-up clutch slipping on purpose: 20 to 100 rpm',
    fromRpm: 20,
    toRpm: 100,
    provenance: COMMON,
  }),
  open: (rpm) => ({
    text: 'lock-up clutch open, steady driving: up to 10 % of engine speed; pulling away, more',
    fromRpm: -0.1 * rpm,
    toRpm: 0.1 * rpm,
    provenance: COMMON,
  }),
};

/** Slip that means something, rpm: an uncertainty above this cannot tell a slipping clutch from a sound one. */
const WORTH_KNOWING_RPM = 20;
/** Below this a share of the speed says nothing. */
const LEAST_RPM = 100;
/** Coverage factor of the stated uncertainties (GUM, 6.2.1). */
const COVERAGE = 2;

/** Engine speed minus turbine speed. `apartS`: largest time between the two readings, default 0. */
export function converterSlip(
  engine: ShaftSpeedValue,
  turbine: ShaftSpeedValue,
  state: ConverterState,
  apartS = 0,
): Slip {
  return slip(engine, { ...turbine, ratio: 1 }, CONVERTER_NORMAL[state](engine.rpm), apartS, [
    'engine',
    'turbine',
  ]);
}

/**
 * Turbine speed minus output speed times the gear's ratio (turbine turns per output turn): 0 when no clutch slips. On a
 * gearbox that is shifted by hand the engine drives in place of the turbine (`drivingName`).
 *
 * @throws RangeError unless the ratio is over 0 (give its size for reverse)
 */
export function clutchSlip(
  turbine: ShaftSpeedValue,
  output: ShaftSpeedValue,
  gearRatio: number,
  apartS = 0,
  drivingName = 'turbine',
): Slip {
  if (!(gearRatio > 0 && Number.isFinite(gearRatio))) {
    throw new RangeError(`the gear's ratio must be over 0, got ${gearRatio}; give its size for reverse`);
  }
  const width = Math.max(10, 0.01 * turbine.rpm);
  const normal: NormalRange = {
    text: 'gear engaged, steady: within 1 % of the driving speed (10 rpm at least) of 0; during a shift, anything',
    fromRpm: -width,
    toRpm: width,
    provenance: COMMON,
  };
  return slip(turbine, { ...output, ratio: gearRatio }, normal, apartS, [drivingName, 'output']);
}

/**
 * Difference of two speeds with its uncertainty. A speed read in steps of r is evenly spread over +- r/2, a standard
 * deviation of r / sqrt 12 (GUM, F.2.2.1); speeds that change are also read up to `apartS` apart.
 */
function slip(
  driving: ShaftSpeedValue,
  driven: ShaftSpeedValue & { ratio: number },
  normal: NormalRange,
  apartS: number,
  names: [string, string],
): Slip {
  checkSpeed(driving, names[0]);
  checkSpeed(driven, names[1]);
  for (const [speed, name] of [
    [driving, names[0]],
    [driven, names[1]],
  ] as const) {
    if (speed.from !== 'road-speed') continue;
    return {
      answer: 'cannot-say',
      reason: `the ${name} speed was worked out from road speed in whole km/h; tyre size and that step hide any slip: a shaft speed is needed`,
    };
  }
  if (driving.rpm < LEAST_RPM) {
    return {
      answer: 'cannot-say',
      reason: `the ${names[0]} turns at ${driving.rpm} rpm only; slip is told from ${LEAST_RPM} rpm on`,
    };
  }
  const slipRpm = driving.rpm - driven.ratio * driven.rpm;
  const change = Math.max(
    Math.abs(driving.changeRpmPerS ?? 0),
    driven.ratio * Math.abs(driven.changeRpmPerS ?? 0),
  );
  const uncertaintyRpm =
    COVERAGE *
    Math.hypot(
      driving.resolutionRpm / Math.sqrt(12),
      (driven.ratio * driven.resolutionRpm) / Math.sqrt(12),
      (change * apartS) / Math.sqrt(3),
    );
  if (uncertaintyRpm > WORTH_KNOWING_RPM) {
    return {
      answer: 'cannot-say',
      reason: `slip would be known to ${uncertaintyRpm.toFixed(0)} rpm only, and ${WORTH_KNOWING_RPM} rpm matters: hold the speed steady or use speeds with finer steps`,
    };
  }
  const inside = slipRpm - uncertaintyRpm >= normal.fromRpm && slipRpm + uncertaintyRpm <= normal.toRpm;
  const outside = slipRpm + uncertaintyRpm < normal.fromRpm || slipRpm - uncertaintyRpm > normal.toRpm;
  return {
    answer: 'slip',
    slipRpm,
    slipPercent: (100 * slipRpm) / driving.rpm,
    uncertaintyRpm,
    normal,
    against: inside ? 'within' : outside ? 'outside' : 'not-certain',
  };
}

function checkSpeed({ rpm, resolutionRpm }: ShaftSpeedValue, name: string): void {
  if (!(Number.isFinite(rpm) && rpm >= 0))
    throw new RangeError(`the ${name} speed must be 0 rpm or more, got ${rpm}`);
  if (!(Number.isFinite(resolutionRpm) && resolutionRpm >= 0)) {
    throw new RangeError(`the ${name} speed's step must be 0 rpm or more, got ${resolutionRpm}`);
  }
}
