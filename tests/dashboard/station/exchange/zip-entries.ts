import { buffer } from 'node:stream/consumers';
import yauzl from 'yauzl';
import { writeArchive } from '../../../../dashboard/station/exchange/asset-archive.ts';

export type Entries = Map<string, Buffer>;

export async function readEntries(file: string): Promise<Entries> {
  const zip = await yauzl.openPromise(file, { lazyEntries: true });
  const found: Entries = new Map();
  for await (const entry of zip.eachEntry())
    found.set(entry.fileName, await buffer(await zip.openReadStreamPromise(entry)));
  return found;
}

export function writeEntries(file: string, entries: Entries): Promise<void> {
  return writeArchive(
    file,
    Date.now(),
    (async function* () {
      for (const [name, bytes] of entries) yield { name, pieces: () => [bytes] };
    })(),
  );
}
