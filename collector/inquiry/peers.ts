import type { Span } from '../capture/capture.ts';
import { levelOfPower } from '../compare/band-power.ts';
import { againstPeers, type Band, type PeersResult, thirdOctaves } from '../compare/index.ts';
import { locationBands } from '../compare/level-table.ts';
import { type LocationRecord, usableBandwidthHz } from '../compare/question.ts';
import { lowestBandHz, windowSpectra } from '../compare/window-levels.ts';
import { recordsOf } from './compare-run.ts';
import { type Condition, chooseSeconds } from './seconds.ts';
import type { Source } from './source.ts';

/** One asset's run, with one location in its source. */
export interface PeerRun {
  assetName: string;
  runId: number;
  source: Source;
  span: Span;
  conditions: readonly Condition[];
}

export interface PeersQuestion {
  own: PeerRun;
  peers: readonly PeerRun[];
}

export interface PeersAnswer extends PeersResult {
  assets: { assetName: string; runId: number; seconds: number }[];
  /** Peers that could not be used, and why. */
  leftOut: { assetName: string; runId: number; reason: string }[];
}

const WINDOW_S = 1;
const MOST_SECONDS = 60;
const LEAST_SECONDS = 5;

/**
 * The same location on other assets, all seconds of their runs alike in speed and gear where these are known.
 *
 * @throws RangeError below two peers, or when the own run has no samples
 */
export async function comparePeers({ own, peers }: PeersQuestion): Promise<PeersAnswer> {
  const ownRecord = await recordOf(own);
  if (typeof ownRecord === 'string') throw new RangeError(`this location: ${ownRecord}`);
  const found: { run: PeerRun; record: LocationRecord; seconds: number }[] = [];
  const leftOut: PeersAnswer['leftOut'] = [];
  for (const run of peers) {
    const record = await recordOf(run);
    const { assetName, runId } = run;
    if (typeof record === 'string') leftOut.push({ assetName, runId, reason: record });
    else found.push({ run, ...record });
  }
  const highest = Math.min(...[ownRecord, ...found].map(({ record }) => usableBandwidthHz(record)));
  const bands = thirdOctaves(lowestBandHz(WINDOW_S), highest);
  const result = againstPeers({
    bands,
    ownDb: levels(ownRecord.record, ownRecord.seconds, bands),
    peersDb: found.map(({ record, seconds }) => levels(record, seconds, bands)),
  });
  const assets = found.map(({ run, seconds }) => ({ assetName: run.assetName, runId: run.runId, seconds }));
  return { ...result, assets, leftOut };
}

async function recordOf(run: PeerRun): Promise<{ record: LocationRecord; seconds: number } | string> {
  const { noise } = chooseSeconds({
    span: run.span,
    marks: [],
    conditions: run.conditions,
    most: MOST_SECONDS,
  });
  if (noise.length < LEAST_SECONDS) return `only ${noise.length} whole seconds`;
  const { records, missing } = await recordsOf(run.source, noise);
  const record = records[0];
  if (record === undefined) return missing[0]?.reason ?? 'no samples';
  const usable = noise.length - (record.unusableWindows?.length ?? 0);
  if (usable < LEAST_SECONDS) return `only ${usable} sound seconds`;
  return { record, seconds: noise.length };
}

function levels(record: LocationRecord, seconds: number, bands: readonly Band[]): number[] {
  const unusable = new Set(record.unusableWindows ?? []);
  const windows = Array.from({ length: seconds }, (_, w) => w).filter((w) => !unusable.has(w));
  const spectra = windowSpectra(record, seconds, WINDOW_S, false);
  const table = locationBands(record, spectra, bands, { noise: windows, quiet: [], windowS: WINDOW_S });
  return table.map(({ power }) => levelOfPower(power));
}
