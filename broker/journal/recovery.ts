import { BrokerError } from '../errors.ts';
import type { Log } from '../log.ts';
import type { Disk } from './disk.ts';
import { decodeSegmentHeader, RESTART_GAP_BYTES, SEGMENT_HEADER_BYTES } from './format.ts';
import { findHeader, parseRecord } from './scan.ts';
import { type Segment, segmentsAmong } from './segments.ts';

export interface SealedSegment extends Segment {
  bytes: number;
  lastWriteMs: number;
}

export interface Recovered {
  /** Oldest first. */
  sealed: SealedSegment[];
  /** Position behind the last sound record; 0 for a new journal. */
  end: number;
  /** Position that no earlier run can have reached. */
  nextStart: number;
}

/**
 * Reads what an earlier run left and cuts a torn tail off the last segment. Only bytes behind the last sound record
 * are cut: they were never acknowledged. A segment without records is kept: its name holds the place of the journal.
 */
export async function recoverSegments(disk: Disk, dir: string, log: Log): Promise<Recovered> {
  const sealed: SealedSegment[] = [];
  for (const segment of segmentsAmong(dir, await disk.list(dir))) {
    const { size, modifiedMs } = await disk.stat(segment.path);
    sealed.push({ ...segment, bytes: size, lastWriteMs: modifiedMs });
  }
  const last = sealed.at(-1);
  if (last === undefined) return { sealed, end: 0, nextStart: 0 };
  // A power cut may have taken bytes from the end that a reader had already seen and counted: positions behind the
  // old end must not come back with other content.
  const nextStart = last.start + last.bytes + RESTART_GAP_BYTES;
  const sound = await soundLength(disk, last, log);
  if (sound < last.bytes) {
    log.warn(
      `journal ${last.path}: cut off ${last.bytes - sound} bytes of an unfinished write at its end ` +
        '(the station was stopped while writing; none of it had been acknowledged)',
    );
    const file = await disk.open(last.path, 'r+');
    await file.truncate(sound);
    await file.sync();
    await file.close();
    last.bytes = sound;
  }
  return { sealed, end: last.start + last.bytes, nextStart };
}

/** Length of the segment up to the end of its last sound record. */
async function soundLength(disk: Disk, segment: SealedSegment, log: Log): Promise<number> {
  const file = await disk.open(segment.path, 'r+');
  try {
    // One segment is at most some tens of MiB: read whole, once at each start.
    const bytes = await file.read(segment.bytes, 0);
    const decoded = decodeSegmentHeader(bytes);
    if (!decoded.ok) {
      if (decoded.problem === 'newer') throw new BrokerError('JOURNAL_NEWER_FORMAT', segment.path);
      if (decoded.problem === 'short') return 0;
      // Nothing in it can be checked without its header: leave it to be looked at by hand.
      log.error(`journal ${segment.path}: its header is damaged; the file is kept but cannot be read`);
      return segment.bytes;
    }
    const { saltCrc } = decoded.header;
    let sound = SEGMENT_HEADER_BYTES;
    for (let at = sound; at >= 0 && at < bytes.length; ) {
      const parsed = parseRecord(bytes, at, saltCrc);
      if (parsed.kind === 'record') {
        sound = at = parsed.end;
      } else if (parsed.kind === 'damaged-body') {
        at = parsed.end;
      } else {
        at = findHeader(bytes, at + 1, saltCrc);
      }
    }
    return sound;
  } finally {
    await file.close();
  }
}
