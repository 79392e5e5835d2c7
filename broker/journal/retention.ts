import type { SealedSegment } from './recovery.ts';

export interface RetentionRules {
  /** Oldest segments are removed while the journal, pinned segments not counted, is larger than this. */
  maxBytes: number;
  /** Segments whose last record is older than this are removed. */
  maxAgeMs: number;
  /** Oldest segments are removed while the disk has less room left than this. */
  minFreeBytes: number;
}

export const DEFAULT_RETENTION: RetentionRules = {
  // About twelve days of one node that sends 3 axes x 3.2 kHz x 2 bytes without a pause (1.7 GB a day).
  maxBytes: 20 * 1024 ** 3,
  maxAgeMs: 14 * 24 * 3600 * 1000,
  minFreeBytes: 512 * 1024 ** 2,
};

export interface Removal {
  segment: SealedSegment;
  why: 'size' | 'age' | 'room';
}

/**
 * Which of the sealed segments have to go, oldest first. The segment being written is never among them, nor is a pinned
 * one, however full the disk: somebody asked to keep it. Pinned ones have their room beside the journal's, so that many
 * kept runs do not leave a journal that forgets at once. Pure.
 */
export function segmentsToRemove(
  sealed: readonly SealedSegment[],
  state: { activeBytes: number; freeBytes: number; nowMs: number },
  rules: RetentionRules,
  isPinned: (segment: SealedSegment) => boolean = () => false,
): Removal[] {
  const removals: Removal[] = [];
  const removable = sealed.filter((segment) => !isPinned(segment));
  let total = removable.reduce((sum, segment) => sum + segment.bytes, state.activeBytes);
  let free = state.freeBytes;
  for (const segment of removable) {
    const why =
      total > rules.maxBytes
        ? 'size'
        : state.nowMs - segment.lastWriteMs > rules.maxAgeMs
          ? 'age'
          : free < rules.minFreeBytes
            ? 'room'
            : null;
    if (why === null) break;
    removals.push({ segment, why });
    total -= segment.bytes;
    free += segment.bytes;
  }
  return removals;
}
