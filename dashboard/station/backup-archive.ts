import { createHash } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { mkdir, mkdtemp, open, rename, rm, stat } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { text } from 'node:stream/consumers';
import { pipeline } from 'node:stream/promises';
import { type Static, Type } from 'typebox';
import { Value } from 'typebox/value';
import yauzl from 'yauzl';
import yazl from 'yazl';
import { snapshotDatabases } from '../../collector/index.ts';
import { StationError } from './errors.ts';

/** The first entry of a backup, `manifest.json`: what is in it and how to tell that it arrived whole. */
const Manifest = Type.Object({
  format: Type.Literal('clampline-backup'),
  version: Type.Literal(1),
  madeAt: Type.String(),
  files: Type.Array(
    Type.Object({ name: Type.String(), bytes: Type.Integer({ minimum: 0 }), sha256: Type.String() }),
  ),
});
export type Manifest = Static<typeof Manifest>;

/** The most that a manifest can be; a larger one is none. */
const MANIFEST_BYTES = 1_000_000;
/** Packed numbers hardly shrink: a light squeeze costs little time. */
const COMPRESSION_LEVEL = 1;

/**
 * Writes a ZIP archive of checked copies of SQLite files, all of one moment, while they may be in use. `file` appears
 * when it is whole.
 */
export async function writeBackup(
  file: string,
  databases: readonly { name: string; path: string }[],
  madeAt: Date,
  onProgress: (share: number, doing: string) => void,
): Promise<Manifest> {
  await mkdir(dirname(file), { recursive: true });
  const folder = await mkdtemp(join(dirname(file), `.${basename(file)}-`));
  try {
    const copies = databases.map(({ name, path }) => ({ name, from: path, to: join(folder, name) }));
    await snapshotDatabases(copies, (share) => onProgress(share * 0.5, 'copying and checking'));
    const files = [];
    for (const { name, to } of copies) {
      files.push({ name, bytes: (await stat(to)).size, sha256: await sha256Of(to) });
    }
    const manifest: Manifest = {
      format: 'clampline-backup',
      version: 1,
      madeAt: madeAt.toISOString(),
      files,
    };
    const partial = join(folder, 'archive');
    const total = files.reduce((sum, { bytes }) => sum + bytes, 0);
    await writeZip(partial, manifest, copies, (bytes) => onProgress(0.5 + (0.5 * bytes) / total, 'packing'));
    await rename(partial, file);
    return manifest;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

async function writeZip(
  file: string,
  manifest: Manifest,
  copies: readonly { name: string; to: string }[],
  onBytes: (bytes: number) => void,
): Promise<void> {
  const zip = new yazl.ZipFile();
  const mtime = new Date(manifest.madeAt);
  zip.addBuffer(Buffer.from(JSON.stringify(manifest, null, 2)), 'manifest.json', { mtime });
  let bytes = 0;
  for (const { name, to } of copies) {
    zip.addReadStreamLazy(name, { mtime, compressionLevel: COMPRESSION_LEVEL }, (give) => {
      const stream = createReadStream(to);
      stream.on('data', (chunk) => {
        bytes += chunk.length;
        onBytes(bytes);
      });
      give(null, stream);
    });
  }
  zip.end();
  const out = createWriteStream(file, { flush: true });
  await pipeline(zip.outputStream, out);
}

/**
 * Unpacks the databases of a backup into a folder, each compared with the manifest.
 *
 * @throws StationError BACKUP_FILE when it is no backup, of a later version, or damaged
 */
export async function unpackBackup(
  file: string,
  folder: string,
  names: readonly string[],
  onProgress: (share: number, doing: string) => void,
): Promise<Manifest> {
  const zip = await yauzl.openPromise(file, { lazyEntries: true, autoClose: false }).catch((error: Error) => {
    throw new StationError('BACKUP_FILE', `'${file}' is no backup: ${error.message}`);
  });
  try {
    let manifest: Manifest | null = null;
    let bytes = 0;
    for await (const entry of zip.eachEntry()) {
      if (manifest === null) {
        manifest = await readManifest(file, zip, entry);
        continue;
      }
      const { files } = manifest;
      const described = files.find(({ name }) => name === entry.fileName);
      // Names come from the archive: only those that a station has are written.
      if (described === undefined || !names.includes(entry.fileName)) continue;
      const total = files.reduce((sum, one) => sum + one.bytes, 0);
      const to = join(folder, described.name);
      const stream = await zip.openReadStreamPromise(entry);
      stream.on('data', (chunk: Buffer) => {
        bytes += chunk.length;
        onProgress(bytes / total, 'unpacking');
      });
      await pipeline(stream, createWriteStream(to, { flags: 'wx', mode: 0o600, flush: true }));
      if ((await sha256Of(to)) !== described.sha256) {
        throw new StationError(
          'BACKUP_FILE',
          `'${file}' is damaged: ${described.name} is not what was packed`,
        );
      }
    }
    if (manifest === null) throw new StationError('BACKUP_FILE', `'${file}' is no backup: it is empty`);
    return manifest;
  } catch (error) {
    if (error instanceof StationError) throw error;
    throw new StationError('BACKUP_FILE', `'${file}' cannot be unpacked: ${(error as Error).message}`);
  } finally {
    zip.close();
  }
}

async function readManifest(file: string, zip: yauzl.ZipFile, entry: yauzl.Entry): Promise<Manifest> {
  if (entry.fileName !== 'manifest.json' || entry.uncompressedSize > MANIFEST_BYTES) {
    throw new StationError('BACKUP_FILE', `'${file}' is no backup: it does not begin with a manifest`);
  }
  const content: unknown = JSON.parse(await text(await zip.openReadStreamPromise(entry)));
  if (!Value.Check(Manifest, content)) {
    throw new StationError('BACKUP_FILE', `'${file}' is no backup, or one of a later version`);
  }
  return content;
}

async function sha256Of(file: string): Promise<string> {
  const handle = await open(file, 'r');
  const hash = createHash('sha256');
  for await (const chunk of handle.createReadStream()) hash.update(chunk as Buffer);
  return hash.digest('hex');
}
