import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { JournaledRuns } from '../../broker/journaled-runs.ts';

const FRAMES = 100n;
const span = (sequence: number, bootId = 7) => ({
  nodeId: '00000000000000a1',
  bootId,
  sequence,
  uptoSample: BigInt(sequence + 1) * FRAMES,
});
const told = (fromSequence: number, uptoSequence: number, bootId = 7) => ({
  nodeId: '00000000000000a1',
  bootId,
  fromSequence,
  uptoSequence,
  uptoSample: BigInt(uptoSequence) * FRAMES,
});

describe('which packets are journaled', () => {
  it('is told as the unbroken run that the newest arrival lies in', () => {
    const runs = new JournaledRuns();
    for (const sequence of [0, 1, 2]) runs.add(span(sequence));
    expect(runs.takeUntold()).toEqual([told(0, 3)]);
    for (const sequence of [5, 6]) runs.add(span(sequence));
    expect(runs.takeUntold()).toEqual([told(5, 7)]);
    // 3 and 4 are sent again.
    runs.add(span(3));
    expect(runs.takeUntold()).toEqual([told(0, 4)]);
    runs.add(span(4));
    expect(runs.takeUntold()).toEqual([told(0, 7)]);
  });

  it('is told once, and again when a packet comes twice', () => {
    const runs = new JournaledRuns();
    runs.add(span(0));
    runs.add(span(1));
    expect(runs.takeUntold()).toHaveLength(1);
    expect(runs.takeUntold()).toEqual([]);
    runs.add(span(0));
    expect(runs.takeUntold()).toEqual([told(0, 2)]);
  });

  it('is kept for each boot by itself', () => {
    const runs = new JournaledRuns();
    runs.add(span(0, 1));
    runs.add(span(9, 2));
    expect(runs.takeUntold()).toEqual([told(0, 1, 1), told(9, 10, 2)]);
    expect(runs.has(span(9, 1))).toBe(false);
  });

  it('holds for packets in any order: what a run covers was added, and nothing between two runs', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 40 }), { minLength: 1, maxLength: 80 }), (sequences) => {
        const runs = new JournaledRuns();
        const added = new Set<number>();
        for (const sequence of sequences) {
          runs.add(span(sequence));
          added.add(sequence);
          const [run] = runs.takeUntold();
          const { fromSequence, uptoSequence, uptoSample } = run!;
          for (let s = fromSequence; s < uptoSequence; s++) expect(added.has(s)).toBe(true);
          expect(added.has(fromSequence - 1) || added.has(uptoSequence)).toBe(false);
          expect(uptoSample).toBe(BigInt(uptoSequence) * FRAMES);
        }
        for (let s = -1; s <= 41; s++) expect(runs.has(span(s))).toBe(added.has(s));
      }),
    );
  });

  it('forgets the longest silent boots rather than grow', () => {
    const runs = new JournaledRuns();
    for (let boot = 0; boot < 5000; boot++) runs.add(span(0, boot));
    expect(runs.takeUntold()).toHaveLength(4096);
    expect(runs.has(span(0, 0))).toBe(false);
    expect(runs.has(span(0, 4999))).toBe(true);
  });
});
