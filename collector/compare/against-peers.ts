import { median, robustSd } from '../trend/robust.ts';
import type { Band } from './bands.ts';
import { studentQuantile } from './student-t.ts';

export interface PeerQuestion {
  bands: readonly Pick<Band, 'nominalHz' | 'fromHz' | 'toHz'>[];
  /** Level of this asset's location in each band, dB. */
  ownDb: readonly number[];
  /** The same location on the other assets, under the same conditions: one row of levels per asset. */
  peersDb: readonly (readonly number[])[];
}

interface PeerBand {
  nominalHz: number;
  fromHz: number;
  toHz: number;
  /** Middle of the peers. */
  peersDb: number;
  /** Own level above it. */
  differenceDb: number;
  /** How far a sound asset may lie from the middle, over all bands looked at: 5 % chance. */
  limitDb: number;
  standing: 'above' | 'below' | 'alike';
}

export interface PeersResult {
  peers: number;
  bands: PeerBand[];
  sentence: string;
}

/** Nominally equal vehicles differ by 5 to 10 dB in one path (see `lead.ts`): a standard deviation of about 4 dB. */
const FLEET_SD_DB = 4;
/** That knowledge weighs as much as this many peers. */
const FLEET_WEIGHT = 8;
/** Chance that a sound asset is called out in any band. */
const ERROR_SHARE = 0.05;
const LEAST_PEERS = 2;

/**
 * The same location on the fleet's other assets: does this one stand out? The limit is a prediction interval about the
 * median of the peers, whose spread is robust and joined with what is known of fleets, so that two alike peers do not
 * make a third an outlier.
 *
 * @throws RangeError below two peers, or where rows differ in length
 */
export function againstPeers({ bands, ownDb, peersDb }: PeerQuestion): PeersResult {
  if (peersDb.length < LEAST_PEERS) {
    throw new RangeError(
      `levels of ${peersDb.length} other assets were given; at least ${LEAST_PEERS} are needed`,
    );
  }
  for (const row of [ownDb, ...peersDb]) {
    if (row.length !== bands.length)
      throw new RangeError(`${row.length} levels for ${bands.length} bands; give one per band`);
  }
  const n = peersDb.length;
  const dof = FLEET_WEIGHT + n - 1;
  const quantile = studentQuantile(ERROR_SHARE / (2 * bands.length), dof);
  const list = bands.map(({ nominalHz, fromHz, toHz }, b): PeerBand => {
    const levels = peersDb.map((row) => row[b]!);
    const middle = median(levels);
    const variance = (FLEET_WEIGHT * FLEET_SD_DB ** 2 + (n - 1) * robustSd(levels) ** 2) / dof;
    // The median of n has pi/2 times the variance of their mean.
    const limitDb = quantile * Math.sqrt(variance * (1 + Math.PI / 2 / n));
    const differenceDb = ownDb[b]! - middle;
    const standing = differenceDb > limitDb ? 'above' : differenceDb < -limitDb ? 'below' : 'alike';
    return { nominalHz, fromHz, toHz, peersDb: middle, differenceDb, limitDb, standing };
  });
  return { peers: n, bands: list, sentence: sentenceOf(list, n) };
}

function sentenceOf(bands: readonly PeerBand[], peers: number): string {
  const above = bands
    .filter(({ standing }) => standing === 'above')
    .sort((a, b) => b.differenceDb - a.differenceDb);
  const top = above[0] ?? [...bands].sort((a, b) => b.differenceDb - a.differenceDb)[0];
  if (top === undefined) return 'No band was measured.';
  const where = `${top.differenceDb.toFixed(1)} dB above the middle of ${peers} peers around ${top.nominalHz} Hz`;
  return above.length > 0
    ? `Louder than its peers in ${above.length} of ${bands.length} bands, most with ${where}; sound ones differ by up to ${top.limitDb.toFixed(1)} dB.`
    : `Within what sound peers differ by: at most ${where}, with up to ${top.limitDb.toFixed(1)} dB to be expected.`;
}
