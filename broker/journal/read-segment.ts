import { SEGMENT_HEADER_BYTES } from './format.ts';
import type { OpenSegment } from './open-segment.ts';
import type { JournalRead } from './reader.ts';
import { findHeader, parseRecord } from './scan.ts';

/** Bytes looked through at once when searching behind damage. */
const SEARCH_BYTES = 1024 ** 2;
/** More than a record header, so that one on the border between two such pieces is found. */
const OVERLAP_BYTES = 64;

/**
 * Reads records of one segment, `size` bytes long now, from `result.nextPosition` on. False when nothing more can be got
 * from it now: it is at its end, or what follows is not whole.
 */
export async function readInto(
  result: JournalRead,
  open: OpenSegment,
  size: number,
  maxBytes: number,
): Promise<boolean> {
  const header = await open.header();
  if (header === null) return false;
  const offset = Math.max(result.nextPosition - open.start, SEGMENT_HEADER_BYTES);
  if (offset >= size) return false;
  let bytes = await open.read(offset, Math.min(maxBytes, size - offset));
  let at = 0;
  for (;;) {
    const parsed = parseRecord(bytes, at, header.saltCrc);
    if (parsed.kind === 'record') {
      const { arrivedAtUs, payload } = parsed;
      const position = open.start + offset + at;
      result.records.push({ position, arrivedAtUs, topic: parsed.topic.toString(), payload });
      at = parsed.end;
    } else if (parsed.kind === 'damaged-body') {
      result.damagedBytes += parsed.end - at;
      at = parsed.end;
    } else if (at > 0) {
      break;
    } else if (parsed.kind === 'short') {
      if (offset + parsed.needed > size) return false;
      bytes = await open.read(offset, parsed.needed);
      if (bytes.length < parsed.needed) return false;
    } else {
      const next = await findFrom(open, offset + 1, size, header.saltCrc);
      // Without a sound record behind it, the end of the segment being written may just not be whole yet.
      if (next < 0) return false;
      result.damagedBytes += next - offset;
      result.nextPosition = open.start + next;
      return true;
    }
  }
  result.nextPosition = open.start + offset + at;
  return true;
}

/** Offset of the first sound record header at or behind `offset`; -1 when there is none. */
async function findFrom(open: OpenSegment, offset: number, size: number, saltCrc: number): Promise<number> {
  for (let at = offset; at < size; at += SEARCH_BYTES - OVERLAP_BYTES) {
    const found = findHeader(await open.read(at, Math.min(SEARCH_BYTES, size - at)), 0, saltCrc);
    if (found >= 0) return at + found;
  }
  return -1;
}

/** When the first record of the segment arrived; null when it holds none. */
export async function firstArrivalUs(segment: OpenSegment): Promise<number | null> {
  const header = await segment.header();
  if (header === null) return null;
  const bytes = await segment.read(SEGMENT_HEADER_BYTES, 2048);
  const at = findHeader(bytes, 0, header.saltCrc);
  return at < 0 ? null : Number(bytes.readBigUInt64LE(at + 12));
}
