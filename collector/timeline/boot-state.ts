import type { Boot } from './boot.ts';
import type { Chunk } from './chunk.ts';
import { forget } from './coverage.ts';
import type { Segment } from './segment.ts';

/** A boot as it is kept on disk: chunks are named by their journal positions. */
export type BootState = Omit<Boot, 'segments' | 'pending'> & { segments: SegmentState[]; pending: number[] };
type SegmentState = Omit<Segment, 'head' | 'tail'> & { head: number[]; tail: number[] };

export function bootState(boot: Boot): BootState {
  return {
    ...boot,
    segments: boot.segments.map((s) => ({
      ...s,
      head: s.head.map(positionOf),
      tail: s.tail.map(positionOf),
    })),
    pending: boot.pending.map(positionOf),
  };
}

/** Journal positions whose packets `restoreBoot` needs. */
export function neededPositions(state: BootState): number[] {
  return [...state.pending, ...state.segments.flatMap((s) => [...s.head, ...s.tail])];
}

/**
 * Builds the boot again. A segment whose tail is no longer in the journal cannot go on without a seam: it is left
 * out (a later packet begins a new one), and the samples of its tail count as not taken in, since after a power cut
 * the node may send them again. A head that is gone only means that a late backlog ends with a seam.
 */
export function restoreBoot(state: BootState, chunkAt: (position: number) => Chunk | undefined): Boot {
  const chunks = (positions: number[]) => positions.map(chunkAt).filter((c) => c !== undefined);
  const segments: Segment[] = [];
  let { coverage } = state;
  for (const kept of state.segments) {
    const tail = chunks(kept.tail);
    if (tail.length < kept.tail.length) {
      coverage = forget(coverage, kept.cuts[0]!, kept.next);
      continue;
    }
    const head = chunks(kept.head);
    const whole = head.length === kept.head.length;
    segments.push({
      ...kept,
      tail,
      head: whole ? head : [],
      headEnd: whole ? kept.headEnd : { counter: kept.next, second: kept.open.second },
    });
  }
  return { ...state, coverage, segments, pending: chunks(state.pending) };
}

function positionOf(chunk: Chunk): number {
  return chunk.position;
}
