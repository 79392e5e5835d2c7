import { describe, expect, it } from 'vitest';
import { createNewest } from '../../../collector/publish/newest.ts';
import { createWatches, LEASE_MS } from '../../../collector/publish/watches.ts';
import { madeReading } from '../store/reading-store-contract.ts';

const NOW_MS = madeReading(1000, 1).startMs;
const seconds = (readings: { startMs: number }[]) =>
  readings.map((r) => (r.startMs - madeReading(0, 1).startMs) / 1000);

describe('what is still to be published', () => {
  it('is the newest reading of each sensor, once', () => {
    const newest = createNewest();
    newest.offer(
      [madeReading(1, 1), madeReading(3, 1), madeReading(2, 1), madeReading(9, 1, { sensor: 1 })],
      NOW_MS,
    );
    expect(seconds(newest.take())).toEqual([3, 9]);
    expect(newest.take()).toEqual([]);
    newest.offer([madeReading(2, 1)], NOW_MS);
    expect(newest.take()).toEqual([]);
  });

  it('replaces a reading by a better one of the same second', () => {
    const newest = createNewest();
    newest.offer([madeReading(1, 1, { flags: ['gap'] })], NOW_MS);
    newest.offer([madeReading(1, 2)], NOW_MS);
    expect(newest.take()[0]!.flags).toEqual([]);
  });

  it('does not grow during an outage, and what could not be sent gives way to newer', () => {
    const newest = createNewest();
    for (let k = 0; k < 1000; k++) {
      newest.offer([madeReading(k, 1)], NOW_MS);
      const taken = newest.take();
      expect(taken).toHaveLength(1);
      newest.putBack(taken);
    }
    const old = newest.take();
    newest.offer([madeReading(1000, 1)], NOW_MS);
    newest.putBack(old);
    expect(seconds(newest.take())).toEqual([1000]);
  });

  it('is everything again for a broker that has forgotten', () => {
    const newest = createNewest();
    newest.offer([madeReading(1, 1), madeReading(4, 1, { sensor: 2 })], NOW_MS);
    newest.take();
    newest.takeAllAgain();
    expect(seconds(newest.take())).toEqual([1, 4]);
  });

  it('is not blocked by a reading dated in the future', () => {
    const newest = createNewest();
    newest.offer([madeReading(5000, 1)], NOW_MS);
    newest.offer([madeReading(1000, 1)], NOW_MS);
    expect(seconds(newest.take())).toEqual([1000]);
  });
});

describe('watches', () => {
  it('hold for ten seconds after the last request', () => {
    const watches = createWatches();
    expect(watches.isWatched('n/0', 0)).toBe(false);
    watches.renew('n/0', 0);
    watches.renew('n/0', 4000);
    expect(watches.isWatched('n/0', 4000 + LEASE_MS)).toBe(true);
    expect(watches.isWatched('n/1', 4000)).toBe(false);
    expect(watches.isWatched('n/0', 4001 + LEASE_MS)).toBe(false);
  });

  it('are bounded; ended ones make room', () => {
    const watches = createWatches();
    for (let n = 0; n < 100; n++) watches.renew(`n/${n}`, 0);
    expect(watches.isWatched('n/63', 1)).toBe(true);
    expect(watches.isWatched('n/64', 1)).toBe(false);
    watches.renew('n/64', LEASE_MS + 1);
    expect(watches.isWatched('n/64', LEASE_MS + 1)).toBe(true);
  });
});
