import type { NodeHealth } from './node-health.ts';
import type { SensorHealth } from './sensor-health.ts';
import { magnitudeOf, STANDARD_GRAVITY_M_PER_S2 } from './vector.ts';

/** Why a node is not sound, or is to be watched. `value` and `limit` are in the unit named at each. */
export type ReasonCode =
  | 'never-heard'
  /** Seconds since the newest data. */
  | 'silent'
  | 'offline'
  | 'stopped'
  | 'asleep'
  /** Percent of the last minutes' seconds. */
  | 'clipping'
  /** Percent of the last minutes' seconds. */
  | 'rattling'
  | 'stuck'
  | 'unknown-scale'
  /** Percent off nominal. */
  | 'rate-off'
  /** Percent of the packets of this boot. */
  | 'packets-missing'
  /** Packets given up for want of room. */
  | 'packets-dropped'
  /** Times since the boot. */
  | 'overruns'
  | 'clock-unknown'
  /** Milliseconds. */
  | 'clock-uncertain'
  /** Percent charge. */
  | 'battery-low'
  /** dBm. */
  | 'signal-weak'
  /** Percent off standard gravity. */
  | 'gravity-off'
  | 'no-gravity'
  /** Times its data sheet's noise, in the quietest second. */
  | 'quieter-than-possible';

export interface Reason {
  code: ReasonCode;
  /** `fault`: levels are wrong or missing. `watch`: they hold, but may not for long. */
  severity: 'fault' | 'watch';
  /** Null: the whole node. */
  sensor: number | null;
  value: number | null;
  limit: number | null;
}

export interface Soundness {
  verdict: 'sound' | 'watch' | 'not-sound' | 'unknown';
  reasons: Reason[];
}

/** Limits are common practice without a source, unless another reason is given. */
export const LIMITS = {
  /** Blocks come each second; some may be on their way. */
  silentS: 30,
  clippingPct: 1,
  /** And at least so many seconds: one may be a knock against the board. */
  rattlingPct: 1,
  rattlingS: 5,
  /** Beyond it the station's filters no longer hold their tolerance. */
  ratePct: 5,
  missingPct: 0.1,
  /** Between sensors of several boards, seconds are compared. */
  clockMs: 50,
  batteryPct: 20,
  signalDbm: -80,
  /** Zero offsets of cheap parts reach a quarter of g: beyond it the scale is in doubt. */
  gravityWatchPct: 15,
  gravityFaultPct: 30,
  /** A sensor cannot be quieter than its own noise; data sheets give typical values. */
  quietTimes: 0.3,
} as const;

export interface SoundnessSources {
  health: NodeHealth | null;
  /** End of the newest block, Unix ms; null when none was ever seen. */
  lastDataMs: number | null;
  nowMs: number;
}

/** Whether a node's levels can be trusted, from what it sends and says. */
export function judgeNode({ health, lastDataMs, nowMs }: SoundnessSources): Soundness {
  const reasons: Reason[] = [];
  const add: Add = (code, severity, { value = null, limit = null, sensor = null } = {}) =>
    void reasons.push({ code, severity, sensor, value, limit });

  const state = health?.status?.state;
  const silentS = lastDataMs === null ? null : (nowMs - lastDataMs) / 1000;
  const isFresh = silentS !== null && silentS <= LIMITS.silentS;
  if (state === 'asleep') add('asleep', 'watch');
  else if (state === 'stopped' && !isFresh) add('stopped', 'fault');
  else if (state === 'offline' && !isFresh) add('offline', 'fault');
  else if (silentS === null) add('never-heard', 'fault');
  else if (!isFresh) add('silent', 'fault', { value: silentS, limit: LIMITS.silentS });
  if (health !== null) judgeHealth(health, isFresh, add);

  const verdict = reasons.some(({ severity }) => severity === 'fault')
    ? 'not-sound'
    : reasons.length > 0
      ? 'watch'
      : 'sound';
  // Sound would be a guess as long as nothing but readings is known of it.
  return { verdict: health === null && verdict === 'sound' ? 'unknown' : verdict, reasons };
}

type Add = (
  code: ReasonCode,
  severity: Reason['severity'],
  numbers?: Partial<Pick<Reason, 'value' | 'limit' | 'sensor'>>,
) => void;

function judgeHealth({ status, boot, clock, sensors }: NodeHealth, isFresh: boolean, add: Add): void {
  if (boot !== null) {
    const sent = boot.packetsReceived + boot.packetsMissing;
    const missingPct = sent === 0 ? 0 : (100 * boot.packetsMissing) / sent;
    if (missingPct > LIMITS.missingPct)
      add('packets-missing', 'watch', { value: missingPct, limit: LIMITS.missingPct });
    if (boot.packetsDropped > 0) add('packets-dropped', 'watch', { value: boot.packetsDropped });
    if (boot.overruns > 0) add('overruns', 'watch', { value: boot.overruns });
  }
  if (isFresh && clock.source !== 'replay') {
    if (clock.uncertaintyMs === null) add('clock-unknown', 'watch');
    else if (clock.uncertaintyMs > LIMITS.clockMs)
      add('clock-uncertain', 'watch', { value: clock.uncertaintyMs, limit: LIMITS.clockMs });
  }
  if (status?.batteryPercent != null && status.batteryPercent < LIMITS.batteryPct)
    add('battery-low', 'watch', { value: status.batteryPercent, limit: LIMITS.batteryPct });
  if (status?.signalDbm != null && status.signalDbm < LIMITS.signalDbm)
    add('signal-weak', 'watch', { value: status.signalDbm, limit: LIMITS.signalDbm });
  for (const sensor of sensors) judgeSensor(sensor, status?.noiseDensityUmPerS2PerRtHz ?? null, add);
}

function judgeSensor(health: SensorHealth, noiseDensity: number | null, add: Add): void {
  const { sensor, flags, recentSeconds, clippedSeconds, rattlingSeconds = 0 } = health;
  const { trueRateHz, nominalRateHz, gravityMPerS2 } = health;
  if (flags.includes('unknown-scale')) add('unknown-scale', 'fault', { sensor });
  if (flags.includes('stuck')) add('stuck', 'fault', { sensor });
  const clippedPct = recentSeconds === 0 ? 0 : (100 * clippedSeconds) / recentSeconds;
  if (clippedPct > LIMITS.clippingPct)
    add('clipping', 'fault', { value: clippedPct, limit: LIMITS.clippingPct, sensor });
  const rattlingPct = recentSeconds === 0 ? 0 : (100 * rattlingSeconds) / recentSeconds;
  if (rattlingSeconds >= LIMITS.rattlingS && rattlingPct > LIMITS.rattlingPct)
    add('rattling', 'fault', { value: rattlingPct, limit: LIMITS.rattlingPct, sensor });
  const ratePct = trueRateHz === null ? 0 : 100 * (trueRateHz / nominalRateHz - 1);
  if (Math.abs(ratePct) > LIMITS.ratePct)
    add('rate-off', 'fault', { value: ratePct, limit: LIMITS.ratePct, sensor });
  if (gravityMPerS2 !== null) {
    const offPct = 100 * (magnitudeOf(gravityMPerS2) / STANDARD_GRAVITY_M_PER_S2 - 1);
    const severity = Math.abs(offPct) > LIMITS.gravityFaultPct ? 'fault' : 'watch';
    if (offPct < -90) add('no-gravity', 'watch', { sensor });
    else if (Math.abs(offPct) > LIMITS.gravityWatchPct)
      add('gravity-off', severity, { value: offPct, limit: LIMITS.gravityWatchPct, sensor });
  }
  const noiseTimes =
    noiseDensity === null || health.quietest === null
      ? null
      : health.quietest.noiseDensityUmPerS2PerRtHz / noiseDensity;
  if (noiseTimes !== null && noiseTimes < LIMITS.quietTimes)
    add('quieter-than-possible', 'watch', { value: noiseTimes, limit: LIMITS.quietTimes, sensor });
}
