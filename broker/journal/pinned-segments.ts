import { systemCode } from '../errors.ts';
import { OpenSegment } from './open-segment.ts';
import { pinned, readPins } from './pins.ts';
import { firstArrivalUs } from './read-segment.ts';
import type { SealedSegment } from './recovery.ts';

/** Which segments pins keep. */
export class PinnedSegments {
  readonly #dir: string;
  /** Arrival of each segment's first record, by the segment's start: written once, so looked up once. */
  readonly #firstMs = new Map<number, number | null>();
  bytes = 0;

  constructor(dir: string) {
    this.#dir = dir;
  }

  /**
   * The pinned ones of `segments`, which are all the sealed ones, oldest first. A segment reaches until the next one
   * begins; the last reaches into the future. File times are not asked: copying a journal changes them.
   */
  async among(segments: readonly SealedSegment[]): Promise<ReadonlySet<SealedSegment>> {
    const pins = await readPins(this.#dir);
    const kept = new Set<SealedSegment>();
    if (pins.length > 0) {
      const firsts = await this.#firsts(segments);
      for (const [i, segment] of segments.entries()) {
        const next = firsts[i + 1] ?? Number.POSITIVE_INFINITY;
        // The clock may have been set back between the two.
        if (pinned(pins, Math.min(firsts[i]!, next), Math.max(firsts[i]!, next))) kept.add(segment);
      }
    }
    this.bytes = [...kept].reduce((sum, { bytes }) => sum + bytes, 0);
    return kept;
  }

  /** One without records counts as beginning with the one before it. */
  async #firsts(segments: readonly SealedSegment[]): Promise<number[]> {
    const firsts: number[] = [];
    const known = new Set(segments.map(({ start }) => start));
    for (const start of this.#firstMs.keys()) if (!known.has(start)) this.#firstMs.delete(start);
    for (const segment of segments) {
      if (!this.#firstMs.has(segment.start)) this.#firstMs.set(segment.start, await firstMsOf(segment));
      firsts.push(this.#firstMs.get(segment.start) ?? firsts.at(-1) ?? Number.NEGATIVE_INFINITY);
    }
    return firsts;
  }
}

async function firstMsOf(segment: SealedSegment): Promise<number | null> {
  try {
    const open = await OpenSegment.open(segment);
    try {
      const first = await firstArrivalUs(open);
      return first === null ? null : first / 1000;
    } finally {
      await open.close();
    }
  } catch (error) {
    if (systemCode(error) === 'ENOENT') return null;
    throw error;
  }
}
