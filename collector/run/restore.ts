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

/**
 * Whether the journal is another one than the one the state was saved from, although its positions could be the
 * same: it holds none of the records that were read last, or (its end lies before `position`) records that came
 * later than all that were read. After a power cut the end may lie before `position` too, but then nothing is newer.
 */
export async function isAnotherJournal(
  journal: JournalReader,
  position: number,
  newestArrivalUs: number,
  restored?: { saved: SavedState; found: Map<number, PipelineRecord> },
): Promise<boolean> {
  if (restored && restored.found.size === 0) {
    const newest = positionsNeeded(restored.saved).at(-1);
    if (newest !== undefined && newest >= (await journal.oldestPosition())) return true;
  }
  if ((await journal.endPosition()) >= position) return false;
  for (let at = await journal.positionBefore(newestArrivalUs + 1); ; ) {
    const { records, nextPosition } = await journal.read(at, READ_BYTES);
    if (records.length === 0) return false;
    if (records.some((record) => record.arrivedAtUs > newestArrivalUs)) return true;
    at = nextPosition;
  }
}
