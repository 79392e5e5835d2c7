import { createWriteStream } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { finished, pipeline } from 'node:stream/promises';
import yauzl from 'yauzl';
import yazl from 'yazl';
import { StationError } from '../errors.ts';

/** An entry of an archive: its name, and its content in pieces. */
export interface ArchiveEntry {
  name: string;
  pieces: () => AsyncIterable<string | Uint8Array> | Iterable<string | Uint8Array>;
}

const COMPRESSION_LEVEL = 4;
/** Text of records and readings shrinks 10 to 60 times. What shrinks more was made to burst whoever unpacks it. */
const MOST_SHRUNK = 250;
/** Samples of a sensor that is stuck shrink without end, and go to the disk: of it this much must stay free. */
const FREE_SHARE = 0.1;

/** Writes a ZIP archive, entry after entry. `file` appears when it is whole. */
export async function writeArchive(
  file: string,
  atMs: number,
  entries: AsyncIterable<ArchiveEntry>,
): Promise<void> {
  const partial = `${file}.${process.pid}.partial`;
  const zip = new yazl.ZipFile();
  const mtime = new Date(atMs);
  const written = pipeline(zip.outputStream, createWriteStream(partial, { flush: true }));
  try {
    await Promise.race([
      // A full disk ends the wait for an entry that nobody reads any more.
      written.then(() => undefined),
      addAll(zip, entries, mtime),
    ]);
    zip.end();
    await written;
    await rename(partial, file);
  } catch (error) {
    (zip.outputStream as Readable).destroy(error as Error);
    await written.catch(() => {});
    throw error;
  } finally {
    await rm(partial, { force: true });
  }
}

async function addAll(zip: yazl.ZipFile, entries: AsyncIterable<ArchiveEntry>, mtime: Date): Promise<void> {
  for await (const { name, pieces } of entries) {
    const content = Readable.from(pieces(), { objectMode: false });
    zip.addReadStream(content, name, { mtime, compressionLevel: COMPRESSION_LEVEL });
    // One at a time: the next may be as large.
    await finished(content);
  }
}

/**
 * Reads the entries whose names `wanted` knows, one after the other. Names serve to tell entries apart, never as paths.
 *
 * @throws StationError ARCHIVE_FILE when the file is no archive, damaged, or would not fit into `freeBytes`
 */
export async function readArchive(
  file: string,
  { freeBytes }: { freeBytes: number },
  wanted: (name: string) => ((content: Readable) => Promise<void>) | null,
): Promise<void> {
  await checkSizes(file, freeBytes);
  await eachEntry(file, async (zip, entry) => {
    const take = wanted(entry.fileName);
    if (take !== null) await take(await zip.openReadStreamPromise(entry));
  });
}

/** What an archive says of itself holds: an entry that is longer than it said is refused while it is read. */
async function checkSizes(file: string, freeBytes: number): Promise<void> {
  const megabytes = (of: number) => `${Math.ceil(of / 1e6).toLocaleString('en')} MB`;
  let bytes = 0;
  let entries = 0;
  await eachEntry(file, async (_zip, { fileName, uncompressedSize, compressedSize }) => {
    bytes += uncompressedSize;
    entries++;
    if (!fileName.endsWith('.wav') && uncompressedSize > compressedSize * MOST_SHRUNK + 1e6) {
      throw new StationError(
        'ARCHIVE_FILE',
        `${fileName} would unpack to ${megabytes(uncompressedSize)}, more than measurements can be shrunk by`,
      );
    }
  });
  if (entries === 0) throw new StationError('ARCHIVE_FILE', `'${file}' is empty`);
  if (bytes > freeBytes * (1 - FREE_SHARE)) {
    throw new StationError(
      'ARCHIVE_FILE',
      `'${file}' unpacks to ${megabytes(bytes)}, and ${megabytes(freeBytes)} are free`,
      'Free some space, or choose a folder on another disk with --data.',
    );
  }
}

async function eachEntry(
  file: string,
  work: (zip: yauzl.ZipFile, entry: yauzl.Entry) => Promise<void>,
): Promise<void> {
  const zip = await yauzl.openPromise(file, { lazyEntries: true, autoClose: false }).catch((error: Error) => {
    throw new StationError('ARCHIVE_FILE', `'${file}' is no archive: ${error.message}`);
  });
  try {
    for await (const entry of zip.eachEntry()) await work(zip, entry);
  } catch (error) {
    // What knows its own remedy is not the archive's fault.
    if ((error as { remedy?: string }).remedy !== undefined) throw error;
    throw new StationError('ARCHIVE_FILE', `'${file}' cannot be unpacked: ${(error as Error).message}`);
  } finally {
    zip.close();
  }
}
