import type { Span } from '../capture/capture.ts';
import { levelOfPower } from '../compare/band-power.ts';
import { againstPeers, type Band, type PeersResult, thirdOctaves } from '../compare/index.ts';
import { locationBands } from '../compare/level-table.ts';
import { type LocationRecord, usableBandwidthHz } from '../compare/question.ts';
import { lowestBandHz, windowSpectra } from '../compare/window-levels.ts';
import { type AlikeSeconds, alikeSeconds } from './alike-seconds.ts';
import { recordsOf } from './compare-run.ts';
import { type Condition, chooseSeconds, type Mark, thin, wholeSeconds } from './seconds.ts';
import type { Source } from './source.ts';

/** One asset's run, with one location in its source. */
export interface PeerRun {
  assetName: string;
  runId: number;
  source: Source;
  span: Span;
  /** Road and engine speed, gear, load: what must be alike. */
  conditions: readonly Condition[];
  /** Of the own run: where noise is marked, its seconds are the ones compared. */
  marks?: readonly Mark[];
}

export interface PeersQuestion {
  own: PeerRun;
  peers: readonly PeerRun[];
}

export interface PeersAnswer extends PeersResult {
  assets: { assetName: string; runId: number; seconds: number; compared: string[] }[];
  /** Peers that could not be used, and why. */
  leftOut: { assetName: string; runId: number; reason: string }[];
  notes: string[];
}

const WINDOW_S = 1;
const MOST_SECONDS = 60;
/** Of a peer, more are looked through for those that were driven alike. */
const MOST_CANDIDATES = 3_600;
const LEAST_SECONDS = 5;

/**
 * The same location on other assets. Each peer is compared over pairs of seconds that were driven alike (speed, gear and
 * load, where both vehicles told them), so that a bus that pulled is not held against one that stood.
 *
 * @throws RangeError below two peers, or when the own run has no samples
 */
export async function comparePeers({ own, peers }: PeersQuestion): Promise<PeersAnswer> {
  const chosen = chooseSeconds({
    span: own.span,
    marks: own.marks ?? [],
    conditions: own.conditions,
    most: MOST_SECONDS,
  });
  const ownSeconds = { seconds: chosen.noise, conditions: own.conditions };
  const ownSamples = await samplesOf(own, chosen.noise);
  if (typeof ownSamples === 'string') throw new RangeError(`this location: ${ownSamples}`);
  const found: { run: PeerRun; samples: Samples; alike: AlikeSeconds }[] = [];
  const leftOut: PeersAnswer['leftOut'] = [];
  for (const run of peers) {
    const { assetName, runId } = run;
    const seconds = wholeSeconds(run.span, MOST_CANDIDATES);
    const alike = alikeSeconds(ownSeconds, { seconds, conditions: run.conditions });
    alike.peer = thin(alike.peer, MOST_SECONDS);
    const samples =
      alike.compared.length > 0 && alike.peer.length < LEAST_SECONDS
        ? `only ${alike.peer.length} of its seconds were driven alike`
        : await samplesOf(run, alike.peer);
    if (typeof samples === 'string') leftOut.push({ assetName, runId, reason: samples });
    else found.push({ run, samples, alike });
  }
  const highest = Math.min(...[ownSamples, ...found.map(({ samples }) => samples)].map(highestHz));
  const bands = thirdOctaves(lowestBandHz(WINDOW_S), highest);
  if (found.length < 2) throw new RangeError(tooFew(found.length, leftOut));
  const ownDb = levels(ownSamples, bands);
  const result = againstPeers({
    bands,
    ownDb,
    peersDb: found.map(({ samples, alike }) => {
      const [here, there] = [levels(ownSamples, bands, new Set(alike.own)), levels(samples, bands)];
      // What this peer lies below the own location over their common drive, taken from the own level of all seconds.
      return ownDb.map((db, b) => db - (here[b]! - there[b]!));
    }),
  });
  const assets = found.map(({ run, alike }) => ({
    assetName: run.assetName,
    runId: run.runId,
    seconds: alike.peer.length,
    compared: alike.compared,
  }));
  return { ...result, assets, leftOut, notes: notesOf(chosen.marked, found) };
}

interface Samples {
  record: LocationRecord;
  seconds: readonly number[];
}

const highestHz = ({ record }: Samples) => usableBandwidthHz(record);

async function samplesOf(run: PeerRun, seconds: readonly number[]): Promise<Samples | string> {
  if (seconds.length < LEAST_SECONDS) return `only ${seconds.length} whole seconds`;
  const { records, missing } = await recordsOf(run.source, seconds);
  const record = records[0];
  if (record === undefined) return missing[0]?.reason ?? 'no samples';
  const usable = seconds.length - (record.unusableWindows?.length ?? 0);
  if (usable < LEAST_SECONDS) return `only ${usable} sound seconds`;
  return { record, seconds };
}

/** Levels over all sound seconds, or those of a set. */
function levels({ record, seconds }: Samples, bands: readonly Band[], only?: ReadonlySet<number>): number[] {
  const unusable = new Set(record.unusableWindows ?? []);
  const sound = seconds.flatMap((second, w) =>
    unusable.has(w) || (only !== undefined && !only.has(second)) ? [] : [w],
  );
  // Without a sound second in the common drive, all of them are the best there is.
  const windows = sound.length > 0 ? sound : seconds.flatMap((_, w) => (unusable.has(w) ? [] : [w]));
  const spectra = windowSpectra(record, seconds.length, WINDOW_S, false);
  const table = locationBands(record, spectra, bands, { noise: windows, quiet: [], windowS: WINDOW_S });
  return table.map(({ power }) => levelOfPower(power));
}

function tooFew(count: number, leftOut: PeersAnswer['leftOut']): string {
  const others = count === 1 ? '1 other asset was' : `${count} other assets were`;
  const why = leftOut.map(({ assetName, runId, reason }) => `${assetName} (run ${runId}): ${reason}`);
  const left = why.length === 0 ? '' : `; left out: ${why.join(', ')}`;
  return `${others} measured here under these conditions, and at least 2 are needed${left}`;
}

function notesOf(marked: boolean, found: readonly { run: PeerRun; alike: AlikeSeconds }[]): string[] {
  const unknown = found.filter(({ alike }) => alike.compared.length === 0);
  return [
    ...(marked ? ['Of this run the seconds marked as noise are compared.'] : []),
    ...(unknown.length === 0
      ? []
      : [
          `Speed, gear and load are not known on both sides for ${unknown.map(({ run }) => run.assetName).join(', ')}: the drive may have differed.`,
        ]),
  ];
}
