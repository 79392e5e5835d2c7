import { readFile, writeFile } from 'node:fs/promises';
import { evenSampleRateHz } from '../vehicle/even-rate.ts';
import { parseRecordedData } from '../vehicle/import-csv.ts';
import { openWav } from '../wav/open-wav.ts';
import { floatWavBytes } from './wav-bytes.ts';

export interface IntakeQuestion {
  kind: 'wav' | 'csv';
  /** The file as it came. */
  path: string;
  /** Where a WAV file is to be written that `Source` can read; the same as `path` for a WAV file. */
  wavPath: string;
}

export interface IntakeAnswer {
  channels: string[];
  sampleRateHz: number;
  frames: number;
  /** Where the file gives dates. */
  startMs: number | null;
  /** Acceleration at digital full scale where the file says so itself: CSV values are in m/s². */
  fullScaleMPerS2: number | null;
  /** What the vehicle said meanwhile: seconds from the first row. */
  vehicle: { quantity: string; timeS: number[]; value: number[] }[];
}

const ACCELERATION = 'accelerationMPerS2';

/**
 * Looks at a recording made elsewhere, and turns a table of values into a WAV file of floats.
 *
 * @throws WavError, RecordedDataError saying where; RangeError when the rows are not at one steady rate
 */
export async function takeIn({ kind, path, wavPath }: IntakeQuestion): Promise<IntakeAnswer> {
  return kind === 'wav' ? fromWav(path) : fromCsv(path, wavPath);
}

async function fromWav(path: string): Promise<IntakeAnswer> {
  const wav = await openWav(path);
  const { channelCount, sampleRateHz, frameCount } = wav;
  await wav.close();
  return {
    channels: Array.from({ length: channelCount }, (_, i) => `channel ${i + 1}`),
    sampleRateHz,
    frames: frameCount,
    startMs: null,
    fullScaleMPerS2: null,
    vehicle: [],
  };
}

async function fromCsv(path: string, wavPath: string): Promise<IntakeAnswer> {
  const { timeS, startMs, columns } = parseRecordedData(await readFile(path, 'utf8'));
  const waveforms = columns.filter(({ quantity }) => quantity === ACCELERATION);
  if (waveforms.length === 0) {
    throw new RangeError(
      'no column holds acceleration; name at least one "acceleration [m/s2]", with the place in front: "pinion acceleration [g]"',
    );
  }
  const sampleRateHz = evenSampleRateHz(timeS);
  for (const { name, values } of waveforms) {
    const hole = values.findIndex((value) => Number.isNaN(value));
    if (hole >= 0)
      throw new RangeError(`column ${name}: row ${hole + 1} is empty; a waveform needs a value in every row`);
  }
  await writeFile(
    wavPath,
    floatWavBytes(
      waveforms.map(({ values }) => values),
      sampleRateHz,
    ),
  );
  const vehicle = columns
    .filter(({ quantity }) => quantity !== ACCELERATION && quantity !== 'other')
    .map(({ quantity, values }) => {
      const rows = [...values.keys()].filter((row) => !Number.isNaN(values[row]!));
      return { quantity, timeS: rows.map((row) => timeS[row]!), value: rows.map((row) => values[row]!) };
    });
  return {
    channels: waveforms.map(({ name }) => name),
    sampleRateHz,
    frames: timeS.length,
    startMs,
    fullScaleMPerS2: 1,
    vehicle,
  };
}
