import {
  type Comparison,
  compareLocations,
  compareMarks,
  type LocationRecord,
  type MarkComparison,
  type WindowMark,
} from '../compare/index.ts';
import { alignedRecord } from './aligned.ts';
import { type ChosenSeconds, chooseSeconds, type SecondsQuestion, spansOf } from './seconds.ts';
import { cutPlaces, type Source } from './source.ts';

export interface CompareRunQuestion extends Omit<SecondsQuestion, 'most'> {
  source: Source;
  bandHz?: [number, number];
  defectHz?: number;
  /** Only these locations; default: all. */
  locationIds?: readonly number[];
}

export interface RunComparison {
  comparison: Comparison;
  /** Noise seconds against quiet ones, location by location; null without enough of both. */
  marks: MarkComparison | null;
  /** Unix seconds compared; window k of the comparison is second k here. */
  seconds: number[];
  noiseSeconds: number;
  quietSeconds: number;
  locations: {
    locationId: number;
    name: string;
    board: string;
    sampleRateHz: number;
    unusableSeconds: number;
  }[];
  /** Locations left out, and why. */
  missing: { locationId: number; name: string; reason: string }[];
  notes: string[];
}

/** Samples of all locations together, as doubles: 160 MB. */
const MOST_SAMPLES = 20e6;
const MOST_SECONDS = 150;
/** Rate that is assumed of a location before its samples are read. */
const USUAL_SAMPLES_PER_S = 10_000;

const placesOf = (source: Source) =>
  source.kind === 'journal'
    ? source.places.length
    : new Set(source.files.flatMap(({ places }) => places.map(({ locationId }) => locationId))).size;

/**
 * Compares the locations of a run over the same seconds, those marked as noise against those without it.
 *
 * @throws RangeError when fewer than two locations, or too few seconds, can be compared
 */
export async function compareRun(question: CompareRunQuestion): Promise<RunComparison> {
  const { source, bandHz, defectHz } = question;
  const perSecond = Math.max(1, placesOf(source)) * USUAL_SAMPLES_PER_S;
  const most = Math.max(10, Math.min(MOST_SECONDS, Math.floor(MOST_SAMPLES / perSecond / 2)));
  const chosen = chooseSeconds({ ...question, most });
  const seconds = [...chosen.noise, ...chosen.quiet].sort((a, b) => a - b);
  if (seconds.length === 0) throw new RangeError('this span holds no whole second; choose a longer one');
  const { locationIds } = question;
  const wanted = (id: number) => locationIds === undefined || locationIds.includes(id);
  const found = await recordsOf(source, seconds);
  const records = found.records.filter(({ id }) => wanted(Number(id)));
  const missing = found.missing.filter(({ locationId }) => wanted(locationId));
  if (records.length < 2) {
    throw new RangeError(
      `samples of ${records.length} location${records.length === 1 ? '' : 's'} were recorded in this span; two or more are compared`,
    );
  }
  const marks = marksOf(seconds, chosen);
  const comparison = compareLocations({
    locations: records,
    ...(chosen.marked ? { marks } : {}),
    ...(bandHz === undefined ? {} : { bandHz }),
    ...(defectHz === undefined ? {} : { defectHz }),
  });
  return {
    comparison,
    marks: chosen.marked ? tryMarks(records, marks) : null,
    seconds,
    noiseSeconds: chosen.noise.length,
    quietSeconds: chosen.quiet.length,
    locations: records.map(({ id, name, board, sampleRateHz, unusableWindows = [] }) => ({
      locationId: Number(id),
      name,
      board,
      sampleRateHz,
      unusableSeconds: unusableWindows.length,
    })),
    missing,
    notes: chosen.notes,
  };
}

/** The places' samples in these seconds, aligned; places without any are named with the reason. */
export async function recordsOf(
  source: Source,
  seconds: readonly number[],
): Promise<{ records: LocationRecord[]; missing: RunComparison['missing'] }> {
  const places = await cutPlaces(source, spansOf(seconds));
  const records: LocationRecord[] = [];
  const missing: RunComparison['missing'] = [];
  for (const place of places) {
    const record = alignedRecord(place, seconds);
    const { locationId, name } = place;
    if (record !== null && record.rattlingSeconds > seconds.length / 2)
      missing.push({ locationId, name, reason: 'its sensor rattled in its clamp: tighten it and run again' });
    else if (record !== null) records.push(record);
    else if (place.stretches.length === 0)
      missing.push({ locationId, name, reason: 'no samples in these seconds' });
    else missing.push({ locationId, name, reason: 'the node does not know its scale' });
  }
  return { records, missing };
}

function marksOf(seconds: readonly number[], { noise, quiet }: ChosenSeconds): WindowMark[] {
  const [loud, calm] = [new Set(noise), new Set(quiet)];
  return seconds.map((s) => (loud.has(s) ? 'noise' : calm.has(s) ? 'quiet' : 'unmarked'));
}

/** Too few seconds of one kind are no failure of the comparison. */
function tryMarks(locations: LocationRecord[], marks: WindowMark[]): MarkComparison | null {
  try {
    return compareMarks({ locations, marks });
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
