import { createReadStream, existsSync } from 'node:fs';
import { join } from 'node:path';
import { type Static, Type } from 'typebox';
import { inquiry } from '../../../collector/index.ts';
import type { RecordStore } from '../../server/index.ts';
import { createSources } from '../../server/index.ts';
import type { ArchiveEntry } from './asset-archive.ts';

const Millis = Type.Number({ minimum: -8.64e15, maximum: 8.64e15 });
const Place = Type.Integer({ minimum: 0 });

/** `recordings/N.json`: what the WAV file beside it cannot say. */
export const RunRecording = Type.Object({
  format: Type.Literal('clampline-run-recording'),
  version: Type.Literal(1),
  /** The run's number in the archive. */
  run: Type.Integer({ minimum: 1 }),
  /** Event time of the first sample, Unix ms. */
  startMs: Millis,
  frames: Type.Union([Type.Integer({ minimum: 1 }), Type.Null()]),
  /** True rate; the WAV file holds it rounded to whole samples per second. */
  sampleRateHz: Type.Number({ exclusiveMinimum: 0, maximum: 1e6 }),
  /** Value of digital full scale, m/s²; 0: the node did not know it. */
  fullScaleMPerS2: Type.Number({ minimum: 0, maximum: 1e9 }),
  /** Largest expected error of `startMs`; null: not known. */
  timeUncertaintyMs: Type.Union([Type.Number({ minimum: 0 }), Type.Null()]),
  /** When the sensor was driven out of its range. */
  clipped: Type.Array(Type.Object({ fromMs: Millis, toMs: Millis })),
  /** Recordings of one board share a clock. */
  board: Type.String({ minLength: 1, maxLength: 64 }),
  channels: Type.Array(
    Type.Object({
      channel: Type.Integer({ minimum: 0, maximum: 255 }),
      /** Place in the archive's list of locations. */
      location: Place,
      axis: Type.Enum(['single', 'x', 'y', 'z']),
    }),
    { minItems: 1, maxItems: 256 },
  ),
});
export type RunRecording = Static<typeof RunRecording>;

/** So much of a run is cut from the journal at once. */
const PART_MS = 600_000;

interface Deps {
  records: RecordStore;
  journalDir: string;
  recordingsDir: string;
  assetId: number;
  locationIds: readonly number[];
  onRecording: (bytes: number) => void;
}

/** The raw samples of an asset's runs that are still there, each as WAV with a description. */
export async function* runRecordings(deps: Deps): AsyncGenerator<ArchiveEntry> {
  const { records, assetId } = deps;
  let number = 0;
  for (const { id: runId } of [...records.runs.list(assetId)].reverse()) {
    const files = records.recordings.ofRun(runId);
    for await (const { description, wav } of files.length > 0
      ? filesOf(deps, runId)
      : cutFromJournal(deps, runId)) {
      number++;
      const text = `${JSON.stringify(description, null, 2)}\n`;
      yield { name: `recordings/${number}.json`, pieces: () => [text] };
      yield { name: `recordings/${number}.wav`, pieces: wav };
    }
  }
}

type Recorded = { description: RunRecording; wav: ArchiveEntry['pieces'] };

async function* filesOf(
  { records, recordingsDir, locationIds, onRecording }: Deps,
  run: number,
): AsyncGenerator<Recorded> {
  for (const { recordingId, channels, ...recording } of records.recordings.ofRun(run)) {
    const path = join(recordingsDir, `${recordingId}.wav`);
    const placed = channels.flatMap(({ locationId, ...rest }) => {
      const location = locationIds.indexOf(locationId);
      return location === -1 ? [] : [{ ...rest, location }];
    });
    if (!existsSync(path) || placed.length === 0) continue;
    const description = { ...HEAD, run, ...recording, channels: placed };
    yield { description, wav: () => counted(createReadStream(path), onRecording) };
  }
}

const HEAD = { format: 'clampline-run-recording', version: 1 } as const;

async function* counted(
  stream: AsyncIterable<Uint8Array>,
  onRecording: Deps['onRecording'],
): AsyncGenerator<Uint8Array> {
  for await (const chunk of stream) {
    onRecording(chunk.length);
    yield chunk;
  }
}

async function* cutFromJournal(deps: Deps, run: number): AsyncGenerator<Recorded> {
  const { records, journalDir, recordingsDir, locationIds, onRecording } = deps;
  const record = records.runs.run(run);
  const sources = createSources(records, { journalDir, recordingsDir }, Date.now);
  if (record.source === 'import') return;
  for (const [location, locationId] of locationIds.entries()) {
    let source: inquiry.Source;
    try {
      source = sources.ofRun(record, locationId);
    } catch (error) {
      // No sensor stood there.
      if ((error as { code?: string }).code?.match(/^(RAW_SAMPLES_MISSING|LOCATION_NOT_FOUND)$/)) continue;
      throw error;
    }
    const whole = { fromMs: record.startMs, toMs: record.endMs ?? Date.now() };
    for await (const { wav, axes, ...stretch } of stretchesOf(source, whole, PART_MS)) {
      const channels = axes.map((axis, channel) => ({ channel, location, axis }));
      onRecording(wav.length);
      yield { description: { ...HEAD, run, ...stretch, channels }, wav: () => [wav] };
    }
  }
}

async function* stretchesOf(
  source: inquiry.Source,
  { fromMs, toMs }: { fromMs: number; toMs: number },
  partMs: number,
): AsyncGenerator<inquiry.RecordedStretch> {
  for (let from = fromMs; from < toMs; from += partMs) {
    const part = { fromMs: from, toMs: Math.min(from + partMs, toMs) };
    try {
      yield* await inquiry.recordedStretches({ source, span: part });
    } catch (error) {
      const { code } = error as { code?: string };
      // Fast sensors hold more than is cut at once.
      if (code === 'CAPTURE_TOO_LARGE' && partMs > 10_000) yield* stretchesOf(source, part, partMs / 4);
      else if (code !== 'JOURNAL_FOLDER_MISSING' && code !== 'CAPTURE_EMPTY') throw error;
    }
  }
}
