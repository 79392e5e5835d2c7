import type { FileMeasurement, Flag, MeasuredChannel } from '../../collector/index.ts';

const FLAG_TEXT: Record<Flag, string> = {
  clipped: 'clipped: the sensor or the recording ran into its limit, the levels are too low or distorted',
  gap: 'gap: samples are missing',
  'below-noise-floor': "below noise floor: the sensor's own noise is as large as the vibration",
  'band-not-covered':
    'band not covered: the sample rate does not reach 1000 Hz, velocity is of the band stated',
  settling: 'settling: too short a stretch for a velocity, the filter had not settled',
  'unknown-scale': 'unknown scale: values cannot be given',
  stuck: 'stuck: the sensor repeats one value, it may be dead or loose',
  rattle: "rattle: the sensor bangs in its clamp, which may be loose; levels are not the machine's",
  'time-unknown': 'time unknown',
};

const CAUTION = [
  'Velocity RMS screens for imbalance, looseness and the like. Zone limits made for stationary machines do not',
  'judge a vehicle: compare with the same run before, and with like parts. A low level does not prove a part sound.',
];

/** A measurement as text: one line per channel, every flag spelt out, what the bands are and what it is not. */
export function measurementTable(measurement: FileMeasurement, bandName: string): string {
  const { channels, sampleRateHz } = measurement;
  const first = channels[0]!;
  const header = ['channel', 'seconds', 'velocity', 'acceleration', 'peak', 'crest', 'kurtosis'];
  const units = ['', '', 'RMS mm/s', 'RMS m/s2', 'm/s2', 'factor', ''];
  const rows = [header, units, ...channels.map(rowOf)];
  const widths = header.map((_, i) => Math.max(...rows.map((row) => row[i]!.length)));
  const table = rows.map((row) =>
    row
      .map((cell, i) => (i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!)))
      .join('  ')
      .trimEnd(),
  );
  const lines = [
    `${measurement.file}: ${channels.length} channel${channels.length === 1 ? '' : 's'} at ${sampleRateHz} Hz`,
    ...(measurement.truncated
      ? ['The recording was cut short: these are the values of the part that is there.']
      : []),
    '',
    ...table,
    '',
    `Velocity band ${number(first.bandHz[0])} to ${number(first.bandHz[1])} Hz (asked for: ${bandName} Hz).`,
    `Acceleration up to ${number(first.accelerationBandHz[1])} Hz, mean removed. Kurtosis: 3 for Gaussian noise.`,
    ...channels.flatMap(flagLines),
    '',
    ...channels.flatMap(findingLines),
    '',
    ...CAUTION,
  ];
  return `${lines.join('\n')}\n`;
}

function rowOf(channel: MeasuredChannel): string[] {
  return [
    channel.name,
    channel.durationS.toFixed(3),
    withUncertainty(channel.velocityRmsMmPerS, channel.velocityUncertaintyMmPerS),
    number(channel.accelerationRmsMPerS2),
    number(channel.accelerationPeakMPerS2),
    number(channel.crestFactor),
    number(channel.kurtosis),
  ];
}

function flagLines(channel: MeasuredChannel): string[] {
  return channel.flags.map((flag) => {
    const blocks = channel.blocks.filter((block) => block.flags.includes(flag)).length;
    return `${channel.name}: ${FLAG_TEXT[flag]} (${blocks} of ${channel.blocks.length} blocks)`;
  });
}

const VERDICT_TEXT: Record<MeasuredChannel['verdict'], string> = {
  none: 'nothing found',
  outer: 'outer race of the bearing',
  inner: 'inner race of the bearing',
  ball: 'rolling element of the bearing',
  cage: 'cage of the bearing',
  'not-clear': 'not clear',
  'not-covered': 'not covered by this recording',
};

function findingLines(channel: MeasuredChannel): string[] {
  const lines = channel.findings.map((finding) => {
    const expected = finding.expectedHz === null ? '' : `, expected ${finding.expectedHz.toFixed(1)}`;
    const chance = Math.round(1 / finding.falseAlarmProbability).toLocaleString('en');
    return `  ${finding.kind}: ${finding.frequencyHz.toFixed(1)} Hz${expected}, ${finding.harmonics} line${finding.harmonics === 1 ? '' : 's'}, chance of this from noise 1 in ${chance}. ${finding.note}`;
  });
  return [`${channel.name}: ${VERDICT_TEXT[channel.verdict]} (${channel.verdictReason}).`, ...lines];
}

/** The uncertainty with two figures, the value to the same place. */
function withUncertainty(value: number | null, uncertainty: number | null): string {
  if (value === null || uncertainty === null || uncertainty <= 0) return number(value);
  if (value < 1e-4 || value >= 1e6) return `${value.toExponential(2)} +- ${uncertainty.toExponential(1)}`;
  const places = Math.max(0, 1 - Math.floor(Math.log10(uncertainty)));
  return `${value.toFixed(places)} +- ${uncertainty.toFixed(places)}`;
}

/** Four figures carry more than any of these values is certain to. */
function number(value: number | null): string {
  if (value === null) return '-';
  return value >= 1000 ? value.toFixed(0) : String(Number(value.toPrecision(4)));
}
