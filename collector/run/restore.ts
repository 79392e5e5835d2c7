import type { JournalReader } from '../../broker/journal/index.ts';
import type { PipelineRecord } from '../pipeline/pipeline.ts';
import { positionsNeeded, type SavedState } from '../pipeline/saved-state.ts';

const READ_BYTES = 256 * 1024;

/** Reads again the packets whose samples a restored pipeline needs; those no longer in the journal are left out. */
export async function recordsNeeded(
  journal: JournalReader,
  saved: SavedState,
): Promise<Map<number, PipelineRecord>> {
  const needed = positionsNeeded(saved);
  const wanted = new Set(needed);
  const found = new Map<number, PipelineRecord>();
  for (let at = 0; at < needed.length; ) {
    const { records, journalReplaced } = await journal.read(needed[at]!, READ_BYTES);
    if (journalReplaced) return new Map();
    for (const record of records) {
      // A copy: the payload is a view that would keep all the bytes read alive.
      if (wanted.has(record.position))
        found.set(record.position, { ...record, payload: Buffer.from(record.payload) });
    }
    const last = records.at(-1)?.position ?? needed[at]!;
    do at++;
    while (at < needed.length && needed[at]! <= last);
  }
  return found;
}
