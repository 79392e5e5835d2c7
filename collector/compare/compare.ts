import { levelOfPower } from './band-power.ts';
import { type Band, thirdOctaves } from './bands.ts';
import { connections } from './connections.ts';
import { defectLine } from './defect-line.ts';
import { difference } from './difference.ts';
import { type LocationBand, locationBands } from './level-table.ts';
import { lineWitness } from './line-witness.ts';
import {
  type CompareQuestion,
  checkQuestion,
  DEFAULT_WINDOW_S,
  LEAST_WINDOWS,
  type LocationRecord,
  toleranceSdDb,
  usableBandwidthHz,
  wholeWindows,
} from './question.ts';
import type { BandRow, Comparison } from './result.ts';
import { bandsOfNoise } from './stand-out.ts';
import { verdict } from './verdict.ts';
import { lowestBandHz, windowSpectra } from './window-levels.ts';
import { witness } from './witness.ts';

/**
 * Compares all locations over the same seconds: which of them makes the noise? Levels per third octave with their
 * uncertainty, which location leads where and how often, how the locations hang together, the size of a defect's
 * line, and a verdict that may be "not clear". See `lead.ts` for the rule and its reasons.
 *
 * @throws RangeError naming the location and what is wrong with its record
 */
export function compareLocations(question: CompareQuestion): Comparison {
  checkQuestion(question);
  const { locations, windowS = DEFAULT_WINDOW_S, defectHz } = question;
  const { noise, quiet } = chooseWindows(question, windowS);
  const highestHz = Math.min(...locations.map(usableBandwidthHz));
  const bands = bandsOf(question, lowestBandHz(windowS), highestHz);
  const axesDiffer = new Set(locations.map(({ axes }) => axes.length)).size > 1;
  const all = wholeWindows(locations, windowS);
  const spectra = locations.map((record) => windowSpectra(record, all, windowS, axesDiffer));
  const measure = (of: readonly Band[]): LocationBand[][] =>
    noise.length === 0
      ? locations.map(() => [])
      : locations.map((record, i) => locationBands(record, spectra[i]!, of, { noise, quiet, windowS }));
  const table = measure(bands);
  const paired = quiet.length === 0;
  const noiseBands = noise.length === 0 ? [] : bandsOfNoise(table, !paired);
  const relevant = noiseBands.map(({ band }) => band);
  const ids = locations.map(({ id }) => id);
  const toleranceOf = (i: number, j: number) =>
    Math.hypot(toleranceSdDb(locations[i]!), toleranceSdDb(locations[j]!));
  const level =
    relevant.length === 0
      ? null
      : witness(
          ids,
          (i, j) =>
            noiseBands.map(({ band, powerShare }) => ({
              ...difference(table[i]![band]!, table[j]![band]!, paired),
              powerShare,
            })),
          toleranceOf,
        );
  const line =
    defectHz === undefined || noise.length < LEAST_WINDOWS
      ? null
      : defectLine(cut(locations, noise, windowS), defectHz, highestHz);
  const byLine = line === null ? null : lineWitness(ids, line, toleranceOf);
  const links = relevant.length === 0 ? [] : connections(locations, bands, relevant, noise, windowS);
  const rows =
    noise.length === 0
      ? []
      : bands.map((band, b) => bandRow(band, b, table, locations, paired, relevant.includes(b)));
  const common = {
    windowS,
    windows: noise,
    quietWindows: quiet,
    toleranceDb: 2 * Math.max(...ids.flatMap((_, i) => ids.map((_, j) => (i === j ? 0 : toleranceOf(i, j))))),
    bands: rows,
    connections: links,
    level,
    defectLine:
      line === null
        ? null
        : {
            frequencyHz: line.frequencyHz,
            sizes: line.sizes.map((carriers, i) => ({ locationId: ids[i]!, carriers })),
            witness: byLine,
          },
  };
  return {
    ...common,
    verdict: verdict(common, {
      names: new Map(locations.map(({ id, name }) => [id, name])),
      merged: (fromHz, toHz) => {
        const band = { nominalHz: 0, centreHz: Math.sqrt(fromHz * toHz), fromHz, toHz };
        return bandRow(band, 0, measure([band]), locations, paired, true);
      },
    }),
    cautions: cautions(
      locations,
      axesDiffer,
      line === null && defectHz !== undefined && noise.length >= LEAST_WINDOWS,
    ),
  };
}

/** Sensors that reach this many times further lose part of what they show when compared with slower ones. */
const MUCH_HIGHER = 1.5;

/** Windows usable at every location, so that all are compared over the same seconds. */
function chooseWindows({ locations, marks }: CompareQuestion, windowS: number) {
  const unusable = new Set(locations.flatMap(({ unusableWindows }) => unusableWindows ?? []));
  const usable = Array.from({ length: wholeWindows(locations, windowS) }, (_, w) => w).filter(
    (w) => !unusable.has(w),
  );
  const marked = (mark: string) => usable.filter((w) => marks?.[w] === mark);
  const noise = marked('noise');
  if (noise.length === 0) return { noise: usable, quiet: [] };
  const quiet = marked('quiet');
  return { noise, quiet: quiet.length < LEAST_WINDOWS ? [] : quiet };
}

function bandsOf({ bandHz }: CompareQuestion, lowestHz: number, highestHz: number): Band[] {
  const bands = thirdOctaves(lowestHz, highestHz);
  if (bandHz === undefined) return bands;
  const inside = bands.filter(({ centreHz }) => centreHz >= bandHz[0] && centreHz <= bandHz[1]);
  if (inside.length > 0) return inside;
  const [fromHz, toHz] = bandHz;
  if (toHz > highestHz) {
    throw new RangeError(
      `band ${fromHz} to ${toHz} Hz: these records reach only to ${Math.floor(highestHz)} Hz; ask for a lower band`,
    );
  }
  return [
    { nominalHz: Math.round(Math.sqrt(fromHz * toHz)), centreHz: Math.sqrt(fromHz * toHz), fromHz, toHz },
  ];
}

function bandRow(
  band: Band,
  b: number,
  table: readonly (readonly LocationBand[])[],
  locations: readonly LocationRecord[],
  paired: boolean,
  standsOut: boolean,
): BandRow {
  const cells = table.map((row) => row[b]!);
  const order = cells.map((_, i) => i).sort((i, j) => cells[j]!.power - cells[i]!.power);
  const [first, second] = [order[0]!, order[1]!];
  const lead = difference(cells[first]!, cells[second]!, paired);
  const toleranceDb = Math.hypot(toleranceSdDb(locations[first]!), toleranceSdDb(locations[second]!));
  const windows = cells[first]!.windowDb;
  return {
    nominalHz: band.nominalHz,
    fromHz: band.fromHz,
    toHz: band.toHz,
    standsOut,
    levels: cells.map(({ power, randomDb, atMost }, i) => ({
      locationId: locations[i]!.id,
      levelDb: levelOfPower(power),
      rmsMPerS2: Math.sqrt(power),
      uncertaintyDb: 2 * Math.hypot(randomDb, toleranceSdDb(locations[i]!)),
      atMost,
    })),
    leaderId: locations[first]!.id,
    leadDb: lead.db,
    uncertaintyDb: 2 * Math.hypot(lead.randomDb, toleranceDb),
    windowsLed: windows.reduce(
      (count, level, w) =>
        count + (cells.every((cell, i) => i === first || cell.windowDb[w]! < level) ? 1 : 0),
      0,
    ),
  };
}

/** Records of the chosen windows only, end to end: joints are few and touch single envelope values. */
function cut(
  locations: readonly LocationRecord[],
  windows: readonly number[],
  windowS: number,
): LocationRecord[] {
  return locations.map((record) => ({
    ...record,
    axes: record.axes.map((samples) => {
      const pieces = windows.map((w) =>
        samples.subarray(
          Math.round(w * windowS * record.sampleRateHz),
          Math.round((w + 1) * windowS * record.sampleRateHz),
        ),
      );
      const joined = new Float64Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
      let at = 0;
      for (const piece of pieces) {
        joined.set(piece, at);
        at += piece.length;
      }
      return joined;
    }),
  }));
}

function cautions(locations: readonly LocationRecord[], axesDiffer: boolean, noCarrier: boolean): string[] {
  const list = [
    'Only measured locations are compared: a part without a sensor near it may still be the source.',
  ];
  if (axesDiffer) {
    list.push(
      'The locations have different numbers of axes, so the strongest axis of each is compared; equal sensors are surer.',
    );
  }
  const reach = locations.map(usableBandwidthHz);
  const [lowest, highest] = [Math.min(...reach), Math.max(...reach)];
  if (highest > MUCH_HIGHER * lowest) {
    const slowest = locations[reach.indexOf(lowest)]!.name;
    list.push(
      `Compared up to ${Math.round(lowest)} Hz only, as far as the ${slowest} reaches; others reach ${Math.round(highest)} Hz: compare these alone to look higher.`,
    );
  }
  const boards = new Set(locations.map(({ board }) => board));
  if (boards.size > 1 && locations.some(({ timeUncertaintyMs }) => (timeUncertaintyMs ?? null) === null)) {
    list.push(
      'At least one board has not exchanged time: whether its seconds are the same seconds is not known.',
    );
  }
  if (noCarrier)
    list.push('The band is too low for the envelope of this defect frequency; use a faster sensor.');
  return list;
}
