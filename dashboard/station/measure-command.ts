import { Command, Option } from 'commander';
import {
  BAND_NAMES,
  type BandName,
  type BearingMultipliers,
  bearingMultipliers,
  KNOWN_BEARINGS,
  knownBearing,
  measureFile,
  toMPerS2,
} from '../../collector/index.ts';
import { StationError } from './errors.ts';
import { measurementTable } from './measure-table.ts';

interface MeasureCommandOptions {
  fullScale?: string;
  unit: 'g' | 'm/s2';
  band: BandName;
  noiseDensity?: string;
  segmentSamples?: string;
  speedRpm?: string;
  bearing?: string;
  allowTruncated?: boolean;
  json?: boolean;
}

const knownNames = KNOWN_BEARINGS.map((bearing) => bearing.designation).join(', ');

/** `measure FILE.wav`: levels of a recording, by the same code that measures live sensors. */
export function measureCommand(): Command {
  return new Command('measure')
    .description('measure a WAV recording of acceleration (16, 24, 32-bit PCM or float, any channel count)')
    .argument('<file.wav>', 'the recording; each of its channels is one accelerometer axis')
    .option(
      '--full-scale <value>',
      'acceleration at digital full scale (needed: a WAV file does not carry it)',
    )
    .addOption(new Option('--unit <unit>', 'unit of --full-scale').choices(['g', 'm/s2']).default('g'))
    .addOption(new Option('--band <Hz>', 'velocity band').choices(BAND_NAMES).default('10-1000'))
    .option(
      '--noise-density <value>',
      "sensor's noise in micro-g per root Hz, to mark readings below its floor",
    )
    .option('--speed-rpm <n>', 'speed of the shaft in the bearing, to seek shaft orders and bearing lines')
    .option(
      '--bearing <n,d,D,angle>',
      `rolling elements, their diameter, pitch diameter (mm) and contact angle (degrees), or one of: ${knownNames}`,
    )
    .option('--segment-samples <n>', 'joined snapshots of n samples each: acceleration only, per snapshot')
    .option('--allow-truncated', 'measure what is there of a recording that was cut short')
    .option('--json', 'print the values, with every block, as JSON')
    .action(async (file: string, options: MeasureCommandOptions) => {
      const measurement = await measure(file, options);
      process.stdout.write(
        options.json
          ? `${JSON.stringify(measurement, null, 2)}\n`
          : measurementTable(measurement, options.band),
      );
    });
}

async function measure(file: string, options: MeasureCommandOptions) {
  if (options.fullScale === undefined) {
    throw new StationError(
      'BAD_SETTING',
      `the scale of ${file} is not known: no level can be given`,
      'Pass the acceleration at digital full scale, for example --full-scale 16 --unit g for a +-16 g sensor.',
    );
  }
  const noise = options.noiseDensity;
  const segment = options.segmentSamples;
  const speed = options.speedRpm;
  if (options.bearing !== undefined && speed === undefined) {
    throw new StationError(
      'BAD_SETTING',
      '--bearing needs --speed-rpm',
      "A bearing's lines follow its speed.",
    );
  }
  const progress = progressLine();
  try {
    return await measureFile(file, {
      fullScale: positive(options.fullScale, '--full-scale'),
      unit: options.unit,
      band: options.band,
      allowTruncated: options.allowTruncated ?? false,
      ...(noise !== undefined && {
        noiseDensityMPerS2PerRtHz: toMPerS2(positive(noise, '--noise-density') * 1e-6, 'g'),
      }),
      ...(segment !== undefined && { segmentSamples: wholePositive(segment, '--segment-samples') }),
      ...(speed !== undefined && { speedRpm: positive(speed, '--speed-rpm') }),
      ...(options.bearing !== undefined && { bearing: bearingOf(options.bearing) }),
      onProgress: progress.show,
    });
  } catch (error) {
    if (error instanceof RangeError) {
      throw new StationError(
        'BAD_SETTING',
        `${file}: ${error.message}`,
        'Choose another --band or recording.',
      );
    }
    throw error;
  } finally {
    progress.clear();
  }
}

function bearingOf(text: string): BearingMultipliers {
  const known = knownBearing(text);
  if (known !== null) return bearingMultipliers(known.geometry);
  const parts = text.split(',').map((part) => (part.trim() === '' ? Number.NaN : Number(part)));
  const remedy = `Give rolling elements, their diameter, pitch diameter (mm) and contact angle (degrees), for example 9,7.94,39.04,0, or one of: ${knownNames}.`;
  if (parts.length !== 4 || parts.some(Number.isNaN)) {
    throw new StationError('BAD_SETTING', `--bearing '${text}' is no bearing`, remedy);
  }
  const [rollingElements, elementDiameterMm, pitchDiameterMm, contactAngleDeg] = parts as [
    number,
    number,
    number,
    number,
  ];
  try {
    return bearingMultipliers({ rollingElements, elementDiameterMm, pitchDiameterMm, contactAngleDeg });
  } catch (error) {
    throw new StationError('BAD_SETTING', `--bearing '${text}': ${(error as Error).message}`, remedy);
  }
}

function positive(text: string, option: string): number {
  const value = Number(text);
  if (text.trim() !== '' && value > 0 && Number.isFinite(value)) return value;
  throw new StationError(
    'BAD_SETTING',
    `${option} '${text}' is not a number above 0`,
    'Give a plain number.',
  );
}

function wholePositive(text: string, option: string): number {
  const value = positive(text, option);
  if (Number.isSafeInteger(value)) return value;
  throw new StationError('BAD_SETTING', `${option} '${text}' is not a whole number`, 'Give a whole number.');
}

/** A line of progress on a terminal; nothing where standard error goes elsewhere. */
function progressLine(): { show: (share: number) => void; clear: () => void } {
  const { stderr } = process;
  let shown = -1;
  return {
    show(share) {
      const percent = Math.floor(share * 100);
      if (!stderr.isTTY || percent === shown) return;
      shown = percent;
      stderr.write(`\rmeasured ${percent} %`);
    },
    clear() {
      if (shown >= 0) stderr.write('\r\u001b[K');
    },
  };
}
