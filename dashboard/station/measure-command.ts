import { writeFile } from 'node:fs/promises';
import { basename, join, parse } from 'node:path';
import { Command, Option } from 'commander';
import {
  type AnalysedChannel,
  analysisPlot,
  BAND_NAMES,
  type BandName,
  type BearingMultipliers,
  bearingFromText,
  KNOWN_BEARINGS,
  type MeasureOptions,
  measureFile,
  toMPerS2,
} from '../../collector/index.ts';
import { StationError } from './errors.ts';
import { measurementTable } from './measure-table.ts';
import { positive, wholePositive } from './option-numbers.ts';

interface MeasureCommandOptions {
  fullScale?: string;
  unit: 'g' | 'm/s2';
  band: BandName;
  noiseDensity?: string;
  segmentSamples?: string;
  speedRpm?: string;
  bearing?: string;
  plot?: string;
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
    .option('--plot <file.svg>', 'draw spectrum and envelope of each channel with its lines marked')
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
  const analysis = {
    ...(speed !== undefined && { speedRpm: positive(speed, '--speed-rpm') }),
    ...(options.bearing !== undefined && { bearing: bearingOf(options.bearing) }),
  };
  const pictures = options.plot === undefined ? null : pictureWriter(options.plot, analysis);
  const progress = progressLine();
  try {
    const measurement = await measureFile(file, {
      fullScale: positive(options.fullScale, '--full-scale'),
      unit: options.unit,
      band: options.band,
      allowTruncated: options.allowTruncated ?? false,
      ...(noise !== undefined && {
        noiseDensityMPerS2PerRtHz: toMPerS2(positive(noise, '--noise-density') * 1e-6, 'g'),
      }),
      ...(segment !== undefined && { segmentSamples: wholePositive(segment, '--segment-samples') }),
      ...analysis,
      ...(pictures !== null && { onRecord: pictures.add }),
      onProgress: progress.show,
    });
    await pictures?.write(file);
    return measurement;
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
  try {
    return bearingFromText(text);
  } catch (error) {
    throw new StationError('BAD_SETTING', `--bearing: ${(error as Error).message}`);
  }
}

/** Writes one picture for each channel: FILE as given for a single one, FILE-1, FILE-2 and so on for several. */
function pictureWriter(path: string, options: Pick<MeasureOptions, 'speedRpm' | 'bearing'>) {
  const { dir, name, ext } = parse(path);
  if (ext.toLowerCase() !== '.svg') {
    throw new StationError(
      'BAD_SETTING',
      `--plot ${path}: pictures are SVG`,
      'Give a name that ends in .svg.',
    );
  }
  const channels: AnalysedChannel[] = [];
  return {
    add: (channel: AnalysedChannel) => channels.push(channel),
    async write(recording: string): Promise<void> {
      for (const [index, channel] of channels.entries()) {
        const file = channels.length === 1 ? path : join(dir, `${name}-${index + 1}${ext}`);
        const svg = analysisPlot({
          ...channel,
          title: `${basename(recording)}, ${channel.name}`,
          ...(options.speedRpm !== undefined && { shaftHz: options.speedRpm / 60 }),
          ...(options.bearing !== undefined && { bearing: options.bearing }),
        });
        await writeFile(file, svg).catch((error: Error) => {
          throw new StationError(
            'BAD_SETTING',
            `--plot: ${error.message}`,
            'Give a file that can be written.',
          );
        });
        process.stderr.write(`picture: ${file}\n`);
      }
    },
  };
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
