import { join } from 'node:path';

/** A segment as the folder lists it. */
export interface Segment {
  start: number;
  path: string;
}

const NAME = /^(\d{16})\.journal$/;

/** File name of the segment that begins at `start`. Sixteen digits hold every position a double counts exactly. */
export function segmentPath(dir: string, start: number): string {
  return join(dir, `${String(start).padStart(16, '0')}.journal`);
}

/** The segments among the names in a folder, oldest first. */
export function segmentsAmong(dir: string, names: readonly string[]): Segment[] {
  const segments: Segment[] = [];
  for (const name of names) {
    const match = NAME.exec(name);
    if (match) segments.push({ start: Number(match[1]), path: join(dir, name) });
  }
  return segments.sort((a, b) => a.start - b.start);
}

/** Index of the last segment that begins at or before `position`; -1 when there is none. */
export function segmentIndexAt(segments: readonly Segment[], position: number): number {
  let low = 0;
  let high = segments.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (segments[middle]!.start <= position) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
