import { randomBytes } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Value } from 'typebox/value';
import { openWav } from '../../../collector/index.ts';
import type { RecordStore } from '../../server/index.ts';
import { damaged, jsonOf } from './archive-text.ts';
import { RunRecording } from './run-recordings.ts';

/** Samples out of an archive, as files of the runs they belong to. */
export interface RecordingIntake {
  /** What the next WAV file is. */
  describe(name: string, content: Readable): Promise<void>;
  take(
    name: string,
    content: Readable,
    taking: ReturnType<RecordStore['carried']['taking']>,
    locationIds: readonly number[],
  ): Promise<'added' | 'there already'>;
  /** Files whose records are not kept for good yet: without them they are nothing. */
  written(): readonly string[];
  /** The records are kept. */
  settled(): void;
}

const DESCRIPTION_BYTES = 1_000_000;

export function recordingIntake(records: RecordStore, recordingsDir: string): RecordingIntake {
  const written: string[] = [];
  let next: { name: string; recording: RunRecording } | null = null;

  return {
    written: () => written,
    settled: () => void written.splice(0),
    async describe(name, content) {
      const recording = await jsonOf(name, content, DESCRIPTION_BYTES);
      if (!Value.Check(RunRecording, recording))
        throw damaged(name, 'describes no recording, or one of a later version');
      next = { name, recording };
    },
    async take(name, content, taking, locationIds) {
      if (next?.name.replace(/json$/, 'wav') !== name) throw damaged(name, 'comes without its description');
      const { run, channels, format, version, ...recording } = next.recording;
      next = null;
      const runId = taking.numberOf('runs', run);
      if (runId === undefined) throw damaged(name, `belongs to run ${run}, which is not in the archive`);
      const placed = channels.map(({ location, ...rest }) => {
        const locationId = locationIds[location];
        if (locationId === undefined)
          throw damaged(name, `names location ${location}, which is not in the archive`);
        return { ...rest, locationId };
      });
      if (isThere(records, runId, recording.startMs, placed)) {
        // It has to be read to get past it.
        content.resume();
        await new Promise((resolve, reject) => content.once('end', resolve).once('error', reject));
        return 'there already';
      }
      // Names out of an archive are never paths here.
      const recordingId = randomBytes(16).toString('hex');
      const partial = join(recordingsDir, `${recordingId}.part`);
      const path = join(recordingsDir, `${recordingId}.wav`);
      try {
        await pipeline(content, createWriteStream(partial, { flags: 'wx', mode: 0o600 }));
        const frames = await framesOf(name, partial, channels);
        await rename(partial, path);
        written.push(path);
        records.recordings.add(runId, { ...recording, recordingId, frames, channels: placed });
      } finally {
        await rm(partial, { force: true });
      }
      return 'added';
    },
  };
}

/** A station whose run it is has its samples in the journal; another one has taken the file in before. */
function isThere(
  records: RecordStore,
  runId: number,
  startMs: number,
  channels: readonly { locationId: number }[],
): boolean {
  if (records.runs.run(runId).source === 'station') return true;
  return records.recordings
    .ofRun(runId)
    .some((file) => file.startMs === startMs && file.channels[0]!.locationId === channels[0]!.locationId);
}

async function framesOf(
  name: string,
  path: string,
  channels: readonly { channel: number }[],
): Promise<number> {
  try {
    const wav = await openWav(path);
    await wav.close();
    const beyond = channels.find(({ channel }) => channel >= wav.channelCount);
    if (beyond !== undefined)
      throw new Error(`it has ${wav.channelCount} channels, and channel ${beyond.channel} is named`);
    return wav.frameCount;
  } catch (error) {
    throw damaged(name, `is no sound recording: ${(error as Error).message}`);
  }
}
