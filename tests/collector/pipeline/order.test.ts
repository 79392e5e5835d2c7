import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { SentMessage } from '../../support/simulated-node.ts';
import { amplitudeOf, seeded, simulatedNode } from '../../support/simulated-node.ts';
import { byArrival, journalOf, largestDifference, runPipeline, sound, stored } from './run.ts';

const START_S = 1_760_000_000.25;
const upTo = (count: number, from = 0) => Array.from({ length: count - from }, (_, i) => from + i);

/** A replayed recording: its time is exact, so that every order must give the very same readings. */
const recording = simulatedNode({ startS: START_S, replay: true, framesPerPacket: 640 });
const packets = upTo(recording.packetsIn(20)).map((i) => recording.packet(i));
const live = runPipeline(journalOf(packets)).readings;

function expectSame(messages: SentMessage[], but = new Set<number>()) {
  const result = stored(runPipeline(journalOf(messages)).readings);
  const expected = stored(live);
  expect([...result.keys()].sort()).toEqual([...expected.keys()].sort());
  for (const [key, reading] of expected) {
    if (but.has(reading.startMs / 1000)) continue;
    expect(result.get(key)!.flags).toEqual(reading.flags);
    expect(largestDifference(reading, result.get(key)!)).toBeLessThan(1e-6);
  }
}

/** Everything, in this order, all in one burst at the end. */
const burst = (order: number[]) =>
  order.map((i) => ({ ...packets[i]!, arrivedAtUs: (START_S + 7200) * 1e6 }));

describe('samples that come otherwise than they were taken', () => {
  it('give the same readings when they come hours late in one burst', () =>
    expectSame(burst(upTo(packets.length))));

  it('give the same readings when every packet comes twice', () => {
    expectSame(packets.flatMap((p) => [p, p]));
    expectSame([...packets, ...packets]);
  });

  it('give the same readings in any order within the window', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 12 }), fc.integer(), (reach, seed) => {
        const random = seeded(seed);
        // Each packet is at most `reach` places from its own.
        const order = upTo(packets.length)
          .map((i) => ({ i, at: i + random() * reach }))
          .sort((a, b) => a.at - b.at)
          .map(({ i }) => i);
        expectSame(burst(order));
      }),
      { numRuns: 40 },
    );
  });

  it('give the same readings when what was missing comes after the live packets', () => {
    // Out of reach from the 5th to the 13th second: live packets come first, then the backlog.
    const gone = (i: number) => i >= 24 && i < 62;
    const before = packets.filter((_, i) => i < 24);
    const after = packets.filter((_, i) => i >= 62 && i < 90);
    const backlog = packets
      .filter((_, i) => gone(i))
      .map((p) => ({ ...p, arrivedAtUs: after.at(-1)!.arrivedAtUs + 1e6 }));
    const rest = packets.slice(90).map((p) => ({ ...p, arrivedAtUs: p.arrivedAtUs + 2e6 }));
    expectSame([...before, ...after, ...backlog, ...rest]);
  });

  it('give the same readings when backlog and live packets come by turns', () => {
    const before = packets.slice(0, 24);
    const [missing, after] = [packets.slice(24, 60), packets.slice(60)];
    const turns = after.flatMap((p, i) => [
      p,
      ...(missing[i] ? [{ ...missing[i], arrivedAtUs: p.arrivedAtUs }] : []),
    ]);
    expectSame([...before, ...turns]);
  });

  it('give the same readings when several stretches are filled in, last first', () => {
    const missing = [upTo(40, 20), upTo(65, 55), upTo(82, 80)];
    const lost = new Set(missing.flat());
    const first = packets.filter((_, i) => !lost.has(i));
    const late = [...missing]
      .reverse()
      .map((part, n) => part.map((i) => ({ ...packets[i]!, arrivedAtUs: (START_S + 100 + n * 10) * 1e6 })));
    // Another node's messages let time pass between the parts.
    const other = simulatedNode({ startS: START_S, nodeId: '00000000000000ee' });
    const ticks = upTo(5).map((n) => ({ ...other.exchange(0), arrivedAtUs: (START_S + 95 + n * 10) * 1e6 }));
    expectSame(byArrival(first, ...late, ticks));
  });

  it('flag what a packet that never comes leaves behind, and only that', () => {
    const lost = 50;
    const { readings, counters } = runPipeline(journalOf(packets.filter((_, i) => i !== lost)));
    const result = stored(readings);
    const atS = START_S + (lost * 640) / 3200;
    for (const [key, reading] of stored(live)) {
      const second = reading.startMs / 1000;
      const other = result.get(key)!;
      if (second === Math.floor(atS)) expect(other.flags).toContain('gap');
      else if (second === Math.floor(atS) + 1) expect(other.flags).toEqual(['settling']);
      else expect(other.flags).toEqual(reading.flags);
    }
    expect(counters['gap']).toBe(1);
  });

  it('count each sample once whatever is lost, doubled and shuffled', () => {
    const plan = fc.record({
      seed: fc.integer(),
      lossShare: fc.double({ min: 0, max: 0.1, noNaN: true }),
      doubleShare: fc.double({ min: 0, max: 0.5, noNaN: true }),
      reach: fc.integer({ min: 1, max: 40 }),
    });
    fc.assert(
      fc.property(plan, ({ seed, lossShare, doubleShare, reach }) => {
        const random = seeded(seed);
        const lost = new Set(upTo(packets.length).filter(() => random() < lossShare));
        const sent = upTo(packets.length)
          .filter((i) => !lost.has(i))
          .flatMap((i) => (random() < doubleShare ? [i, i] : [i]))
          .map((i) => ({ i, at: i + random() * reach }))
          .sort((a, b) => a.at - b.at)
          .map(({ i }) => packets[i]!);
        const result = sound(runPipeline(journalOf(sent)).readings);
        const expected = sound(live);
        for (const [second, reading] of result) {
          // A second that is sound is the very one of the undisturbed run.
          expect(largestDifference(expected.get(second)!, reading)).toBeLessThan(1e-6);
          const begin = Math.round((second - START_S) * 3200);
          const touched = [...lost].some((i) => i * 640 < begin + 3200 && (i + 1) * 640 > begin);
          expect(touched).toBe(false);
        }
      }),
      { numRuns: 40 },
    );
  });
});

describe('a free-running node', () => {
  const options = { startS: START_S, rateFactor: 1.02, clockPpm: 25, jitterUs: 1000 };

  function journey(lateFromS: number, lateToS: number) {
    // Slowly changing, so that a block that begins a millisecond elsewhere reads the same.
    const signal = (s: number) => (2 + Math.sin(s / 3)) * Math.sin(2 * Math.PI * 50 * (s - START_S));
    const node = simulatedNode({ ...options, signal, random: seeded(9) });
    const all = upTo(node.packetsIn(60)).map((i) => node.packet(i));
    const exchanges = [-3, -2, -1, 55, 56].map((s) => node.exchange(s));
    const isLate = (p: SentMessage) => {
      const atS = p.arrivedAtUs / 1e6 - START_S;
      return atS > lateFromS && atS < lateToS;
    };
    const moved = all.map((p) => (isLate(p) ? { ...p, arrivedAtUs: p.arrivedAtUs + 3 * 3600e6 } : p));
    return runPipeline(journalOf(byArrival(moved, exchanges))).readings;
  }

  it('out of reach for a while reads within 1 % of what it would have read live', () => {
    const [asLive, late] = [sound(journey(0, 0)), sound(journey(20, 45))];
    expect(late.size).toBe(asLive.size);
    for (const [second, reading] of asLive) {
      expect(largestDifference(reading, late.get(second)!)).toBeLessThan(0.01);
    }
  });

  it('begins a new timeline with each boot', () => {
    const boots = upTo(6).map((n) =>
      simulatedNode({ ...options, bootId: 100 + n, startS: START_S + n * 15 }),
    );
    const messages = byArrival(
      ...boots.map((node) => [
        ...upTo(node.packetsIn(10)).map((i) => node.packet(i)),
        ...[-2, -1].map((s) => node.exchange(s)),
      ]),
    );
    const found = sound(runPipeline(journalOf(messages)).readings);
    expect(found.size).toBeGreaterThanOrEqual(6 * 7);
    for (const [second, reading] of found) {
      const measured = reading.axes[0]!.accelerationRmsMPerS2! * Math.SQRT2;
      expect(Math.abs(measured / amplitudeOf(second) - 1)).toBeLessThan(0.01);
    }
  });
});
