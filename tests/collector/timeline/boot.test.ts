import { describe, expect, it } from 'vitest';
import { acceptChunk, acceptExchange } from '../../../collector/timeline/arrivals.ts';
import { type Boot, type BootContext, createBoot } from '../../../collector/timeline/boot.ts';
import { chunkOf } from '../../../collector/timeline/chunk.ts';
import { DEFAULT_LIMITS } from '../../../collector/timeline/limits.ts';
import type { Block } from '../../../collector/timeline/segment.ts';
import {
  decodeSamplePacket,
  decodeTimeRequest,
  encodeSamplePacket,
  PacketFlag,
} from '../../../firmware-protocol/index.ts';
import {
  type SentMessage,
  type SimulatedNodeOptions,
  seeded,
  simulatedNode,
} from '../../support/simulated-node.ts';

interface FedBlock extends Block {
  segment: number;
  fed: number;
}

/** A boot with a sink that writes everything down. */
function recorder(limits = {}) {
  const blocks: FedBlock[] = [];
  const counts: Record<string, number> = {};
  const fed = new Map<number, [number, number][]>();
  const inBlock = new Map<number, number>();
  let boot: Boot | null = null;
  const context: BootContext = {
    limits: { ...DEFAULT_LIMITS, ...limits },
    rates: [],
    count: (reason) => {
      counts[reason] = (counts[reason] ?? 0) + 1;
    },
    sink: {
      opened: (segment) => void fed.set(segment.id, []),
      fed: (segment, _chunk, from, to) => {
        fed.get(segment.id)!.push([from, to]);
        inBlock.set(segment.id, (inBlock.get(segment.id) ?? 0) + to - from);
      },
      cut: (segment, block) => {
        blocks.push({ ...block, segment: segment.id, fed: inBlock.get(segment.id) ?? 0 });
        inBlock.set(segment.id, 0);
      },
      closed: () => {},
    },
  };
  function accept(message: SentMessage): void {
    boot ??= createBoot(7, message.arrivedAtUs);
    if (message.topic.endsWith('/time')) {
      const decoded = decodeTimeRequest(message.payload);
      if (decoded.ok && decoded.message.previous) {
        acceptExchange(boot, decoded.message.previous, message.arrivedAtUs, context);
      }
      return;
    }
    const decoded = decodeSamplePacket(message.payload);
    if (!decoded.ok) throw new Error(decoded.reason);
    acceptChunk(boot, chunkOf(decoded.packet, 0, message.arrivedAtUs), context);
  }
  return { pending: () => boot!.pending, blocks, counts, fed, accept };
}

const START_S = 1_760_000_000.25;
const flat = { signal: () => 0, startS: START_S };

/** Real time at which a counter's sample was taken, at a constant rate. */
const realS = (counter: number, rateHz: number) => START_S + counter / rateHz;

function exchanges(node: ReturnType<typeof simulatedNode>, seed: number, untilS: number, meanDelayS = 0.002) {
  const random = seeded(seed);
  const delay = () => 0.001 - meanDelayS * Math.log(1 - random());
  const times = [-5, -4, -3, -2, -1];
  for (let s = 30; s < untilS; s += 30) times.push(s);
  return times.map((s) => node.exchange(s, delay(), delay()));
}

function play(options: SimulatedNodeOptions, seconds: number, seed: number) {
  const node = simulatedNode({ ...flat, random: seeded(seed), jitterUs: 1000, ...options });
  const made = recorder();
  const packets = Array.from({ length: node.packetsIn(seconds) }, (_, i) => node.packet(i));
  const all = [...packets, ...exchanges(node, seed, seconds)].sort((a, b) => a.arrivedAtUs - b.arrivedAtUs);
  for (const message of all) made.accept(message);
  return made;
}

describe('blocks of a boot', () => {
  it.each([0.95, 1, 1.05])(
    'begin within 2.5 ms of the whole second at %f of the nominal rate',
    (rateFactor) => {
      for (const [seed, clockPpm] of [
        [1, 40],
        [2, -40],
        [3, 0],
      ] as const) {
        const { blocks } = play({ rateFactor, clockPpm }, 120, seed);
        const settled = blocks.filter((b) => b.second >= START_S + 10);
        expect(settled.length).toBeGreaterThan(105);
        for (const block of settled) {
          const errorS = Math.abs(realS(block.start, 3200 * rateFactor) - block.second);
          expect(errorS).toBeLessThan(0.0025);
          expect(errorS * 1e6).toBeLessThan(block.timeUncertaintyUs!);
        }
        const last = settled.at(-1)!;
        expect(Math.abs(last.rateHz / (3200 * rateFactor) - 1)).toBeLessThan(1e-4);
      }
    },
  );

  it('hold every sample once, second after second', () => {
    const { blocks, fed } = play({ rateFactor: 1.03, clockPpm: 10 }, 60, 4);
    for (let i = 1; i < blocks.length; i++) {
      expect(blocks[i]!.start).toBe(blocks[i - 1]!.end);
      expect(blocks[i]!.second).toBe(blocks[i - 1]!.second + 1);
    }
    for (const block of blocks) expect(block.fed).toBe(block.end - block.start);
    expect(blocks.slice(1).every((b) => b.whole)).toBe(true);
    expect(blocks[0]!.whole).toBe(false);
    expect(fed.get(0)!.flat()[0]).toBe(0);
  });

  it('follow a rate that drifts by 0.5 % in ten minutes', () => {
    const { blocks } = play({ rateFactor: (s) => 1 + (0.005 * s) / 600 }, 600, 5);
    const durations = blocks.slice(5).map((b) => (b.end - b.start) / b.rateHz);
    for (const duration of durations) expect(Math.abs(duration - 1)).toBeLessThan(0.004);
    expect(blocks.slice(5).every((b) => b.whole)).toBe(true);
  });
});

describe('a boot without an exchange of time', () => {
  it('waits for one, then is placed by arrival and says so', () => {
    const node = simulatedNode(flat);
    const { accept, blocks } = recorder();
    for (let i = 0; i < node.packetsIn(3.5); i++) accept(node.packet(i, i === 8 ? 0.005 : 0.05));
    expect(blocks).toEqual([]);
    for (let i = node.packetsIn(3.5); i < node.packetsIn(12); i++) accept(node.packet(i, 0.05));
    expect(blocks.length).toBeGreaterThan(9);
    for (const block of blocks) {
      expect(block.timeUncertaintyUs).toBeNull();
      expect(Math.abs(realS(block.start, 3200) - Math.max(block.second, START_S))).toBeLessThan(0.02);
    }
  });

  it('is placed right from its first sample when the exchange comes in time', () => {
    const node = simulatedNode({ ...flat, clockPpm: 20 });
    const { accept, blocks } = recorder();
    // A backlog of 20 s that comes in one burst, an hour late, and with it the first exchange.
    const lateS = 3600;
    const burst = Array.from({ length: node.packetsIn(20) }, (_, i) => node.packet(i));
    const arrivedAtUs = (START_S + lateS) * 1e6;
    for (const packet of burst) accept({ ...packet, arrivedAtUs });
    expect(blocks).toEqual([]);
    accept({ ...node.exchange(lateS), arrivedAtUs: arrivedAtUs + 1e6 });
    expect(blocks.length).toBeGreaterThanOrEqual(20);
    for (const block of blocks.slice(2))
      expect(Math.abs(realS(block.start, 3200) - block.second)).toBeLessThan(0.1);
  });

  it('goes over to the exchanged time with one step', () => {
    const node = simulatedNode(flat);
    const { accept, blocks } = recorder();
    // Everything arrives 0.7 s late, so placing by arrival is wrong by that.
    for (let i = 0; i < node.packetsIn(10); i++) accept(node.packet(i, 0.7));
    accept(node.exchange(9));
    for (let i = node.packetsIn(10); i < node.packetsIn(20); i++) accept(node.packet(i, 0.7));
    const known = blocks.filter((b) => b.timeUncertaintyUs !== null);
    const whole = known.filter((b) => b.whole);
    expect(whole.length).toBeGreaterThanOrEqual(8);
    for (const block of whole) expect(Math.abs(realS(block.start, 3200) - block.second)).toBeLessThan(0.001);
    for (let i = 1; i < blocks.length; i++) expect(blocks[i]!.start).toBe(blocks[i - 1]!.end);
  });
});

describe('what belongs together', () => {
  const replay = { ...flat, replay: true };

  it('begins a new stretch where the sensor lost samples, without waiting', () => {
    const node = simulatedNode(replay);
    const { accept, fed, counts } = recorder();
    for (let i = 0; i < 10; i++) accept(node.packet(i));
    accept(node.packet(10, 0.02, { flags: PacketFlag.Overrun }));
    expect([...fed.keys()]).toEqual([0, 1]);
    expect(counts).toMatchObject({ gap: 1, 'segment-closed': 1 });
  });

  it('begins a new stretch at once when the node itself left samples out (no sequence is missing)', () => {
    const [node, other] = [simulatedNode(replay), simulatedNode({ ...replay, framesPerPacket: 800 })];
    const { accept, fed } = recorder();
    for (let i = 0; i < 4; i++) accept(node.packet(i));
    // Sequence 4 begins at counter 3200: counters 1600 to 3199 were never sent.
    accept(other.packet(4));
    expect(fed.get(1)).toEqual([[3200, 4000]]);
  });

  it('waits for a missing packet, and no longer than it may', () => {
    const node = simulatedNode(replay);
    const { accept, fed, pending } = recorder();
    for (const i of [0, 1, 3, 4]) accept(node.packet(i));
    expect(fed.get(0)!.flat().at(-1)).toBe(800);
    accept(node.packet(2));
    expect(fed.get(0)!.flat().at(-1)).toBe(2000);
    for (let i = 6; i < 60; i++) accept(node.packet(i));
    expect(pending()).toEqual([]);
    expect([...fed.keys()]).toEqual([0, 1]);
    expect(fed.get(1)!.flat()[0]).toBe(2400);
  });

  it('holds no more packets or bytes than it may', () => {
    for (const limits of [{ reorderPackets: 5 }, { reorderBytes: 4000 }]) {
      const node = simulatedNode(replay);
      const { accept, pending, fed } = recorder({ ...limits, reorderUs: 1e12 });
      accept(node.packet(0));
      for (let i = 2; i < 60; i++) {
        accept(node.packet(i));
        expect(pending().length).toBeLessThanOrEqual(6);
      }
      expect(fed.size).toBe(2);
    }
  });

  it('drops what came before and counts it', () => {
    const node = simulatedNode(replay);
    const overlapping = simulatedNode({ ...replay, framesPerPacket: 600 });
    const { accept, counts, fed } = recorder();
    for (const i of [0, 1, 1, 0, 2]) accept(node.packet(i));
    expect(counts['duplicate-packet']).toBe(2);
    accept(overlapping.packet(1));
    expect(counts['duplicate-packet']).toBe(3);
    accept(overlapping.packet(2, 0.02));
    expect(counts['overlapping-packet']).toBeUndefined();
    accept(overlapping.packet(3, 0.02));
    expect(fed.get(0)!.flat().at(-1)).toBe(2400);
    const straddling = simulatedNode({ ...replay, framesPerPacket: 1000 });
    accept(straddling.packet(2));
    expect(counts['overlapping-packet']).toBe(1);
    expect(fed.get(0)!.flat().at(-1)).toBe(3000);
  });

  it('begins a new stretch when the clock ran on while the counter stood still, but not for one odd reading', () => {
    const node = simulatedNode({ ...flat, jitterUs: 0 });
    const paused = (i: number): SentMessage => {
      const sent = node.packet(i, 5);
      return { ...sent, payload: shiftClock(sent.payload, 5_000_000n) };
    };
    const { accept, fed, counts } = recorder();
    accept(node.exchange(-2));
    for (let i = 0; i < 20; i++) accept(node.packet(i));
    accept(paused(20));
    for (let i = 21; i < 30; i++) accept(node.packet(i));
    expect(fed.size).toBe(1);
    for (let i = 30; i < 40; i++) accept(paused(i));
    expect(fed.size).toBe(2);
    expect(counts['clock-jump']).toBe(1);
  });
});

/** The packet with its node clock moved and its checksum made again. */
function shiftClock(payload: Uint8Array, byUs: bigint): Uint8Array {
  const decoded = decodeSamplePacket(payload);
  if (!decoded.ok) throw new Error(decoded.reason);
  return encodeSamplePacket({ ...decoded.packet, nodeClockUs: decoded.packet.nodeClockUs + byUs });
}
