import { randomBytes } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, readdir, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { inquiry } from '../../../collector/index.ts';
import { Refusal } from '../errors.ts';
import type { Analyst } from './analyst.ts';

/** Recordings made elsewhere, as files: taken in, described, and removed when no run rests on them. */
export interface RecordingFiles {
  take(body: Readable, kind: 'wav' | 'csv'): Promise<{ recordingId: string } & inquiry.IntakeAnswer>;
  /** What was found when it was taken. Throws `RECORDING_NOT_FOUND`. */
  description(recordingId: string): Promise<inquiry.IntakeAnswer>;
}

const ABANDONED_MS = 24 * 3_600_000;
const FILE = /^([0-9a-f]{32})\.(wav|json|part)$/;

export function createRecordingFiles(dir: string | undefined, analyst: Analyst): RecordingFiles {
  function folder(): string {
    if (dir === undefined) throw new Refusal('RAW_SAMPLES_MISSING');
    return dir;
  }
  const file = (recordingId: string, ending: string) => join(folder(), `${recordingId}.${ending}`);

  return {
    async take(body, kind) {
      await mkdir(folder(), { recursive: true });
      const recordingId = randomBytes(16).toString('hex');
      const wavPath = file(recordingId, 'wav');
      const path = kind === 'wav' ? wavPath : file(recordingId, 'part');
      try {
        await pipeline(body, createWriteStream(path, { flags: 'wx', mode: 0o600 }));
        const found = await analyst.ask('intake', { kind, path, wavPath });
        await writeFile(file(recordingId, 'json'), JSON.stringify(found), { mode: 0o600 });
        return { recordingId, ...found };
      } catch (error) {
        await rm(wavPath, { force: true });
        throw error;
      } finally {
        if (kind === 'csv') await rm(path, { force: true });
      }
    },
    async description(recordingId) {
      try {
        return JSON.parse(await readFile(file(recordingId, 'json'), 'utf8')) as inquiry.IntakeAnswer;
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code === 'ENOENT') throw new Refusal('RECORDING_NOT_FOUND');
        throw error;
      }
    },
  };
}

/** Removes what no run rests on and nobody has touched for a day. File times are the computer's own clock. */
export async function cleanRecordings(dir: string | undefined, inUse: ReadonlySet<string>): Promise<void> {
  if (dir === undefined) return;
  const names = await readdir(dir).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return [];
    throw error;
  });
  for (const name of names) {
    const recordingId = FILE.exec(name)?.[1];
    if (recordingId === undefined || inUse.has(recordingId)) continue;
    const path = join(dir, name);
    const touched = (await stat(path).catch(() => null))?.mtimeMs ?? 0;
    if (Date.now() - touched > ABANDONED_MS) await rm(path, { force: true });
  }
}
