import { type BearingResult, findBearingDefect } from '../../collector/analysis/bearing-defect.ts';
import type { BearingPart } from '../../collector/analysis/bearing-families.ts';
import { SIMULATED_HEALTHY } from '../../collector/analysis/finding.ts';
import { bearingMultipliers } from '../../collector/drivetrain/bearing.ts';
import { type Counts, faultyMachines, foreignMachines, healthyMachines } from './calibration.ts';
import {
  goldenIndex,
  goldenPresent,
  openDataPresent,
  openIndex,
  readChannels,
  SHARED,
} from './recordings.ts';

type Print = (line: string) => void;

export interface RecordingRow {
  recording: string;
  /** Fault and its size, as stated with the recording. */
  truth: string;
  channel: string;
  /** The channel sits at the faulty bearing. */
  atFault: boolean;
  fault: string;
  sizeMm: number | null;
  result: BearingResult;
}

/** The bearing rule on every labelled open recording: each channel that sits at a bearing, asked about that bearing. */
export async function openRecordings(): Promise<RecordingRow[]> {
  const { bearings, recordings } = openIndex();
  const rows: RecordingRow[] = [];
  for (const recording of recordings) {
    if (recording.fault === 'unknown') continue;
    const { sampleRateHz, channels } = await readChannels(
      `${SHARED}open-data/${recording.file}`,
      recording.fullScale,
    );
    for (const { index, location } of recording.channels) {
      const bearing = bearings[recording.bearingsOnMachine?.[location] ?? ''];
      if (bearing === undefined) continue;
      const result = findBearingDefect({
        samples: channels[index]!,
        sampleRateHz,
        shaftHz: recording.shaftRpm / 60,
        multipliers: bearingMultipliers(bearing),
      });
      const size = recording.faultSizeMm === null ? '' : ` ${(recording.faultSizeMm / 25.4).toFixed(3)} in`;
      rows.push({
        recording: recording.id,
        truth: `${recording.fault}${size}${recording.faultLocation === null ? '' : `, ${recording.faultLocation}`}`,
        channel: location,
        atFault: location === recording.faultLocation,
        fault: recording.fault,
        sizeMm: recording.faultSizeMm,
        result,
      });
    }
  }
  return rows;
}

export interface GoldenRow {
  file: string;
  expected: string;
  result: BearingResult;
}

export async function goldenRecordings(): Promise<GoldenRow[]> {
  const rows: GoldenRow[] = [];
  for (const { file, fullScale, expect, measure } of goldenIndex()) {
    if (measure.bearing === undefined || measure.speedRpm === undefined) continue;
    const { sampleRateHz, channels } = await readChannels(`${SHARED}golden/${file}`, fullScale);
    const [rollingElements, elementDiameterMm, pitchDiameterMm, contactAngleDeg] = measure.bearing;
    const result = findBearingDefect({
      samples: channels[0]!,
      sampleRateHz,
      shaftHz: measure.speedRpm / 60,
      multipliers: bearingMultipliers({
        rollingElements,
        elementDiameterMm,
        pitchDiameterMm,
        contactAngleDeg,
      }),
    });
    rows.push({ file, expected: expect.verdict ?? '', result });
  }
  return rows;
}

/** Table of the open recordings and the golden ones. */
export async function validateRecordings(print: Print): Promise<void> {
  if (openDataPresent()) printOpen(print, await openRecordings());
  else print('skipped: open data not present');
  if (!goldenPresent()) {
    print('skipped: golden recordings not present');
    return;
  }
  print('\n| golden recording | expected | verdict |\n| --- | --- | --- |');
  for (const { file, expected, result } of await goldenRecordings()) {
    print(`| ${file} | ${expected} | ${result.verdict} |`);
  }
}

function printOpen(print: Print, rows: RecordingRow[]): void {
  print('| recording | truth | channel | verdict | found at, Hz | expected, Hz | lines | depth |');
  print('| --- | --- | --- | --- | --- | --- | --- | --- |');
  for (const { recording, truth, channel, result } of rows) {
    const first = result.findings[0];
    const found =
      first === undefined
        ? ' |  |  | '
        : `${first.kind} ${first.frequencyHz.toFixed(1)} | ${first.expectedHz?.toFixed(1)} | ${first.harmonics} | ${first.modulationDepth?.toFixed(2)}`;
    print(`| ${recording} | ${truth} | ${channel} | ${result.verdict} | ${found} |`);
  }
}

const PARTS: BearingPart[] = ['outer', 'inner', 'ball', 'cage'];
const SNR_DB = [-18, -12, -6, 0];

/** Table of synthetic machines. `scale` multiplies the number of records (1: about 15 minutes on one core). */
export function validateSynthetic(print: Print, scale = 1): void {
  const line = (name: string, c: Counts) =>
    print(
      `| ${name} | ${c.records} | ${c.right} | ${c.notClear} | ${c.none} | ${c.wrong} | ${c.withFinding} |`,
    );
  print('\n| synthetic machines | records | right | not clear | none | wrong | with a finding |');
  print('| --- | --- | --- | --- | --- | --- | --- |');
  line('healthy', healthyMachines(Math.round(SIMULATED_HEALTHY * scale), 100_000));
  line('healthy beside a foreign swelling', foreignMachines(Math.round(150 * scale), 200_000));
  for (const part of PARTS) {
    for (const snrDb of SNR_DB) {
      const seed = 300_000 + 10_000 * PARTS.indexOf(part) + 1000 * SNR_DB.indexOf(snrDb);
      line(`${part}, ${snrDb} dB`, faultyMachines(part, snrDb, Math.round(25 * scale), seed));
    }
  }
}
