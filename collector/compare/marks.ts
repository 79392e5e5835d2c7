import { normalQuantile } from '../trend/normal.ts';
import { levelOfPower } from './band-power.ts';
import { type Band, thirdOctaves } from './bands.ts';
import { locationBands } from './level-table.ts';
import {
  type CompareQuestion,
  checkRecords,
  DEFAULT_WINDOW_S,
  usableBandwidthHz,
  wholeWindows,
} from './question.ts';
import { lowestBandHz, windowSpectra } from './window-levels.ts';

/** How one band of one location differs between noise and quiet seconds. */
interface MarkChange {
  locationId: string;
  nominalHz: number;
  fromHz: number;
  toHz: number;
  /** Level with the noise minus level without it, dB. */
  changeDb: number;
  /** Expanded uncertainty, chance alone: it is the same sensor both times, so its tolerance cancels. */
  uncertaintyDb: number;
  /** Beyond chance, over all bands and locations looked at. */
  significant: boolean;
}

export interface MarkComparison {
  noiseWindows: number[];
  quietWindows: number[];
  /** Every band of every location. */
  changes: MarkChange[];
  /** Significant rises of 1 dB or more, largest first. */
  rises: MarkChange[];
  sentence: string;
}

/** Fewer windows of either kind say nothing of their scatter. */
const LEAST_WINDOWS = 3;
/** Chance of calling anything significant where nothing changed, over the whole table. */
const ERROR_SHARE = 0.01;
/** A rise that a person could hear (common practice, no source). */
const WORTH_TELLING_DB = 1;

/**
 * The seconds with the noise against the seconds without it, location by location: what changed, and where? Both must
 * be at the same speed, load and gear, or the change is that of the drive.
 *
 * @throws RangeError where fewer than three windows of either kind can be used
 */
export function compareMarks(question: CompareQuestion): MarkComparison {
  checkRecords(question);
  const { locations, windowS = DEFAULT_WINDOW_S, marks = [] } = question;
  const unusable = new Set(locations.flatMap(({ unusableWindows }) => unusableWindows ?? []));
  const all = wholeWindows(locations, windowS);
  const marked = (mark: string) =>
    Array.from({ length: all }, (_, w) => w).filter((w) => marks[w] === mark && !unusable.has(w));
  const [noise, quiet] = [marked('noise'), marked('quiet')];
  if (noise.length < LEAST_WINDOWS || quiet.length < LEAST_WINDOWS) {
    throw new RangeError(
      `${noise.length} seconds with the noise and ${quiet.length} without it can be used; mark at least ${LEAST_WINDOWS} of each`,
    );
  }
  const bands = thirdOctaves(lowestBandHz(windowS), Math.min(...locations.map(usableBandwidthHz)));
  const limit = normalQuantile(1 - ERROR_SHARE / (2 * bands.length * locations.length));
  const changes = locations.flatMap((record) => {
    const spectra = windowSpectra(record, all, windowS, false);
    const [withNoise, without] = [noise, quiet].map((of) =>
      locationBands(record, spectra, bands, { noise: of, quiet: [], windowS }),
    );
    return bands.map((band, b): MarkChange => {
      const [loud, calm] = [withNoise![b]!, without![b]!];
      const changeDb = levelOfPower(loud.power) - levelOfPower(calm.power);
      const sd = Math.hypot(loud.randomDb, calm.randomDb);
      return {
        locationId: record.id,
        ...edges(band),
        changeDb,
        uncertaintyDb: 2 * sd,
        significant: Math.abs(changeDb) > limit * sd,
      };
    });
  });
  const rises = changes
    .filter(({ significant, changeDb }) => significant && changeDb >= WORTH_TELLING_DB)
    .sort((a, b) => b.changeDb - a.changeDb);
  const names = new Map(locations.map(({ id, name }) => [id, name]));
  return { noiseWindows: noise, quietWindows: quiet, changes, rises, sentence: sentenceOf(rises, names) };
}

const edges = ({ nominalHz, fromHz, toHz }: Band) => ({ nominalHz, fromHz, toHz });

function sentenceOf(rises: readonly MarkChange[], names: ReadonlyMap<string, string>): string {
  const first = rises[0];
  if (first === undefined)
    return 'Nothing rises beyond chance in the seconds marked as noise: the sensors do not show it, or the marks are late.';
  const others = [...new Set(rises.map(({ locationId }) => locationId))].filter(
    (id) => id !== first.locationId,
  );
  const also =
    others.length === 0
      ? 'no other location rises'
      : `${listed(others.map((id) => `the ${names.get(id)}`))} rise${others.length === 1 ? 's' : ''} less`;
  return `With the noise the ${names.get(first.locationId)} rises most, by ${first.changeDb.toFixed(1)} ± ${first.uncertaintyDb.toFixed(1)} dB around ${first.nominalHz} Hz; ${also}.`;
}

/** "the a, the b and the c" */
const listed = (parts: readonly string[]): string =>
  parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
