/** Nodes in words: why one is not sound, what it says of itself, and what a tap told. Pure. */
import type { NodeSummary } from '../contract/model.ts';
import type { FeltTap, NodeHealth, SensorHealth, Soundness, SoundnessReason } from '../contract/rig.ts';
import { ago, significant } from './format.ts';

const G_M_PER_S2 = 9.80665;

type Words = (value: number, limit: number) => string;

const percent = (value: number) => `${significant(Math.abs(value), 2)} %`;

const REASONS: Record<string, Words> = {
  'never-heard': () => 'has not sent anything yet',
  silent: (seconds) => `silent for ${ago(seconds * 1000).replace(' ago', '')}`,
  offline: () => 'lost its connection: check its battery and the network',
  stopped: () => 'says that it has stopped sampling',
  asleep: () => 'asleep, as planned',
  clipping: (share) =>
    `clipped in ${percent(share)} of the last minutes’ seconds: the shaking exceeds its range, so true levels are higher`,
  rattling: (share) =>
    `rattled in ${percent(share)} of the last minutes’ seconds: its clamp may be loose. With the machine at rest, tighten it and rap it`,
  stuck: () => 'repeats one value: the sensor or its cable is faulty',
  'unknown-scale': () => 'does not say its full scale, so it gives no levels',
  'rate-off': (off, limit) =>
    `samples ${percent(off)} ${off < 0 ? 'slower' : 'faster'} than it says; over ${limit} % levels are off`,
  'packets-missing': (share) => `${percent(share)} of its packets did not arrive, or not yet`,
  'packets-dropped': (count) => `gave up ${count} packets because its memory was full`,
  overruns: (count) => `its sensor overran ${count} times: samples are missing`,
  'clock-unknown': () => 'has not agreed on the time with the station yet',
  'clock-uncertain': (ms, limit) =>
    `its time is known to ${significant(ms, 2)} ms only (over ${limit}): do not compare its seconds with other boards`,
  'battery-low': (charge) => `battery at ${Math.round(charge)} %: charge or change it soon`,
  'signal-weak': (dbm) => `weak radio signal, ${Math.round(dbm)} dBm: packets may be lost`,
  'gravity-off': (off) =>
    `reads gravity ${percent(off)} too ${off < 0 ? 'low' : 'high'} at rest: its scale or offset is off; check it against gravity`,
  'no-gravity': () => 'does not feel gravity, so a moved mount cannot be noticed',
  'quieter-than-possible': () => 'quieter than its data sheet allows: it may be stuck or not connected',
};

/** "sensor 2: clipped in 3 % of …". An unknown reason as it came, so that nothing is hidden. */
export function reasonText({ code, sensor, value, limit }: SoundnessReason): string {
  const words = REASONS[code]?.(value ?? 0, limit ?? 0) ?? code.replaceAll('-', ' ');
  return sensor === null ? words : `sensor ${sensor + 1}: ${words}`;
}

const VERDICTS: Record<Soundness['verdict'], string> = {
  sound: 'Sound',
  watch: 'Works, with a remark',
  'not-sound': 'Not sound',
  unknown: 'Not known yet',
};
export const verdictText = (soundness: Soundness | undefined): string =>
  VERDICTS[soundness?.verdict ?? 'unknown'];

export interface Fact {
  name: string;
  text: string;
}

const NOT_SAID = 'not stated';
const STATES = { offline: 'offline', sampling: 'sampling', stopped: 'stopped', asleep: 'asleep' } as const;
const CAUSES: Record<string, string> = {
  power: 'after power-up',
  watchdog: 'by its watchdog',
  'brown-out': 'after low voltage',
  software: 'on command',
  pin: 'by its reset button',
};

/** What is known of a node as a whole. */
export function nodeFacts({ status, boot, clock }: NodeHealth, nowMs: number): Fact[] {
  const sent = boot === null ? 0 : boot.packetsReceived + boot.packetsMissing;
  const missing = boot?.packetsMissing ?? 0;
  return [
    { name: 'State', text: status === null ? NOT_SAID : STATES[status.state] },
    {
      name: 'Started',
      text:
        boot === null
          ? NOT_SAID
          : [ago(nowMs - boot.startedMs), CAUSES[boot.resetCause ?? '']].filter(Boolean).join(', '),
    },
    {
      name: 'Packets',
      text:
        boot === null ? NOT_SAID : `${missing === 0 ? 'none' : missing} missing of ${sent} since the start`,
    },
    { name: 'Clock', text: clockText(clock) },
    { name: 'Battery', text: batteryText(status) },
    { name: 'Signal', text: status?.signalDbm == null ? NOT_SAID : `${status.signalDbm} dBm` },
    {
      name: 'Temperature',
      text: status?.temperatureC == null ? NOT_SAID : `${significant(status.temperatureC)} °C`,
    },
    {
      name: 'Waiting to be sent',
      text:
        status?.bufferFillPermille == null
          ? NOT_SAID
          : `${significant(status.bufferFillPermille / 10)} % of its memory`,
    },
    { name: 'Firmware', text: status?.firmwareVersion || NOT_SAID },
    { name: 'Sensor part', text: status?.sensorPart || NOT_SAID },
  ];
}

function clockText({ source, uncertaintyMs, errorPpm }: NodeHealth['clock']): string {
  if (source === 'replay') return 'the recording’s own time';
  if (uncertaintyMs === null) return 'not agreed with the station yet';
  const drift =
    errorPpm === null
      ? ''
      : `, runs ${significant(Math.abs(errorPpm), 2)} millionths too ${errorPpm < 0 ? 'slow' : 'fast'}`;
  return `within ${significant(uncertaintyMs, 2)} ms${drift}`;
}

function batteryText(status: NodeHealth['status']): string {
  const parts = [
    status?.batteryPercent == null ? '' : `${status.batteryPercent} %`,
    status?.batteryMilliVolt == null ? '' : `${significant(status.batteryMilliVolt / 1000)} V`,
  ].filter(Boolean);
  return parts.length > 0 ? parts.join(', ') : NOT_SAID;
}

/** What is known of one sensor. */
export function sensorFacts(sensor: SensorHealth): Fact[] {
  const {
    nominalRateHz,
    trueRateHz,
    recentSeconds,
    clippedSeconds,
    rattlingSeconds,
    quietest,
    gravityMPerS2,
  } = sensor;
  const off = trueRateHz === null ? 0 : 100 * (trueRateHz / nominalRateHz - 1);
  return [
    {
      name: 'Sample rate',
      text:
        trueRateHz === null
          ? `${significant(nominalRateHz, 5)} Hz nominal, true rate not known yet`
          : `${significant(trueRateHz, 5)} Hz (${off < 0 ? '−' : '+'}${significant(Math.abs(off), 2)} % of nominal)`,
    },
    {
      name: 'Clipped',
      text: recentSeconds === 0 ? NOT_SAID : `${clippedSeconds} of the last ${recentSeconds} s`,
    },
    {
      name: 'Rattled',
      text:
        recentSeconds === 0 || rattlingSeconds === undefined
          ? NOT_SAID
          : `${rattlingSeconds} of the last ${recentSeconds} s`,
    },
    {
      name: 'Noise floor',
      text:
        quietest === null
          ? 'no sound second yet'
          : `at most ${significant(quietest.accelerationRmsMPerS2, 2)} m/s², ` +
            `${significant(quietest.noiseDensityUmPerS2PerRtHz / G_M_PER_S2, 2)} µg/√Hz (its quietest second)`,
    },
    {
      name: 'Gravity',
      text:
        gravityMPerS2 === null
          ? 'not measured on a single axis'
          : `${significant(Math.hypot(...gravityMPerS2))} m/s²: ${pointsUp(gravityMPerS2)}`,
    },
  ];
}

function pointsUp(gravity: readonly number[]): string {
  const axis = gravity.reduce((best, value, i) => (Math.abs(value) > Math.abs(gravity[best]!) ? i : best), 0);
  const tiltDeg = (Math.acos(Math.abs(gravity[axis]!) / Math.hypot(...gravity)) * 180) / Math.PI;
  const side = gravity[axis]! > 0 ? 'up' : 'down';
  return `${'XYZ'[axis]} points ${side}, ${Math.round(tiltDeg)}° off upright`;
}

/** "Bus 1 gearbox board, sensor 2"; the number is left out where there is only one. */
export function sensorName(nodes: readonly NodeSummary[], nodeId: string, sensor: number | null): string {
  const node = nodes.find((one) => one.nodeId === nodeId);
  const label = node?.label ?? `node ${nodeId}`;
  return sensor === null || (node?.sensors.length ?? 0) <= 1 ? label : `${label}, sensor ${sensor + 1}`;
}

/** A tap goes on being news for so long. */
export const TAP_NEWS_MS = 15_000;

/**
 * "felt a tap 2 s ago", and how it compares; empty when this sensor felt none lately. Knocks of a running machine
 * mark no row: only who is looking for a clamp is told of them.
 */
export function tapText(taps: readonly FeltTap[], nodeId: string, sensor: number, nowMs: number): string {
  const rap = taps.findLast(({ felt }) => felt.some((tap) => isOf(tap, nodeId, sensor)));
  if (rap === undefined || Math.abs(nowMs - rap.atMs) > TAP_NEWS_MS) return '';
  const age = ago(Math.max(0, nowMs - rap.atMs));
  const when = age === 'now' ? 'just now' : age;
  if (rap.felt[0]!.atRest === false) return '';
  const isStrongest = isOf(rap.felt[0]!, nodeId, sensor);
  if (rap.felt.length === 1) return `felt a tap ${when}`;
  if (!isStrongest) return `felt a tap ${when}, weaker than another`;
  return rap.clear ? `felt a tap ${when}, the strongest` : `felt a tap ${when}, about as strong as another`;
}

function isOf(tap: FeltTap['felt'][number], nodeId: string, sensor: number): boolean {
  return tap.nodeId === nodeId && (tap.sensor === null || tap.sensor === sensor);
}
