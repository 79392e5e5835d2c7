import { createWriteStream } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { text } from 'node:stream/consumers';
import { pipeline } from 'node:stream/promises';
import { Value } from 'typebox/value';
import yauzl from 'yauzl';
import yazl from 'yazl';
import { StationError } from '../errors.ts';
import { AssetManifest } from './asset-manifest.ts';

/** An entry of readings: its name in the archive, and its text in pieces. */
export interface ReadingsEntry {
  name: string;
  pieces: () => AsyncIterable<string>;
}

const MANIFEST = 'asset.json';
/** The most that a manifest can be; a larger one is none. */
const MANIFEST_BYTES = 16_000_000;
const COMPRESSION_LEVEL = 4;

/** Writes a ZIP archive of one asset. `file` appears when it is whole. */
export async function writeAssetArchive(
  file: string,
  manifest: AssetManifest,
  entries: readonly ReadingsEntry[],
): Promise<void> {
  const partial = `${file}.${process.pid}.partial`;
  const zip = new yazl.ZipFile();
  const mtime = new Date(manifest.exportedAtMs);
  zip.addBuffer(Buffer.from(`${JSON.stringify(manifest, null, 2)}\n`), MANIFEST, { mtime });
  const abort = new AbortController();
  for (const { name, pieces } of entries) {
    zip.addReadStreamLazy(name, { mtime, compressionLevel: COMPRESSION_LEVEL }, (give) => {
      const stream = Readable.from(pieces());
      // The archive does not pass on a failure of what goes into it.
      stream.on('error', (error) => abort.abort(error));
      give(null, stream);
    });
  }
  zip.end();
  try {
    const out = createWriteStream(partial, { flush: true });
    await pipeline(zip.outputStream, out, { signal: abort.signal }).catch((error: unknown) => {
      throw abort.signal.aborted ? abort.signal.reason : error;
    });
    await rename(partial, file);
  } finally {
    await rm(partial, { force: true });
  }
}

/**
 * Opens an archive; gives its manifest, then every other entry as a stream, one after the other.
 *
 * @throws StationError ARCHIVE_FILE when it is none, of a later version, or damaged
 */
export async function readAssetArchive(
  file: string,
  onManifest: (manifest: AssetManifest) => void,
  onReadings: (name: string, content: Readable) => Promise<void>,
): Promise<void> {
  const zip = await yauzl.openPromise(file, { lazyEntries: true, autoClose: false }).catch((error: Error) => {
    throw new StationError('ARCHIVE_FILE', `'${file}' is no archive: ${error.message}`);
  });
  try {
    let begun = false;
    for await (const entry of zip.eachEntry()) {
      if (!begun) {
        onManifest(await manifestIn(file, zip, entry));
        begun = true;
      } else if (entry.fileName.endsWith('.csv')) {
        await onReadings(entry.fileName, await zip.openReadStreamPromise(entry));
      }
    }
    if (!begun) throw new StationError('ARCHIVE_FILE', `'${file}' is empty`);
  } catch (error) {
    // What knows its own remedy is not the archive's fault.
    if ((error as { remedy?: string }).remedy !== undefined) throw error;
    throw new StationError('ARCHIVE_FILE', `'${file}' cannot be unpacked: ${(error as Error).message}`);
  } finally {
    zip.close();
  }
}

async function manifestIn(file: string, zip: yauzl.ZipFile, entry: yauzl.Entry): Promise<AssetManifest> {
  if (entry.fileName !== MANIFEST || entry.uncompressedSize > MANIFEST_BYTES) {
    throw new StationError(
      'ARCHIVE_FILE',
      `'${file}' is no archive of an asset: it does not begin with ${MANIFEST}`,
    );
  }
  try {
    const content: unknown = JSON.parse(await text(await zip.openReadStreamPromise(entry)));
    if (Value.Check(AssetManifest, content)) return content;
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
  }
  throw new StationError('ARCHIVE_FILE', `'${file}' is no archive of an asset, or one of a later version`);
}
