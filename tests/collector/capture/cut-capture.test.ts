import { readdir } from 'node:fs/promises';
import { afterEach, describe, expect, it } from 'vitest';
import type { CaptureStretch } from '../../../collector/capture/capture.ts';
import { cutCapture } from '../../../collector/capture/cut-capture.ts';
import { type SentMessage, seeded, simulatedNode } from '../../support/simulated-node.ts';
import { journalOf } from './journal-of.ts';

const START_S = 1_760_000_000.25;
const NODE = '00000000000000a1';
const SENSOR = { nodeId: NODE, sensor: 0 };
const HZ = 5;

/** A slow sine of known phase: its value tells the true time of a sample. */
const slow = (unixS: number, channel: number) => (channel + 1) * Math.sin(2 * Math.PI * HZ * (unixS % 1000));

const folders: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const remove of folders.splice(0)) await remove();
});

async function journal(messages: SentMessage[], segmentBytes?: number) {
  const made = await journalOf(messages, segmentBytes);
  folders.push(made.remove);
  return made.dir;
}

type Node = ReturnType<typeof simulatedNode>;
const packets = (node: Node, from: number, to: number) =>
  Array.from({ length: to - from }, (_, i) => node.packet(from + i));
const exchanges = (node: Node, everyS: number, untilS: number) =>
  Array.from({ length: Math.floor(untilS / everyS) }, (_, i) => node.exchange(1 + i * everyS));

/** Largest departure of the samples from the truth, as an error of time in ms. */
function timeErrorMs(stretch: CaptureStretch, axis = 0): number {
  const steepest = 2 * Math.PI * HZ * (axis + 1);
  let largest = 0;
  stretch.samples[axis]!.forEach((raw, i) => {
    const unixS = stretch.startMs / 1000 + i / stretch.sampleRateHz;
    const value = (raw / 32768) * stretch.fullScaleMPerS2;
    largest = Math.max(largest, Math.abs(value - slow(unixS, axis)) / steepest);
  });
  return 1000 * largest;
}

describe('cutting a capture from a journal', () => {
  const options = {
    startS: START_S,
    rateFactor: 1.023,
    clockPpm: 40,
    jitterUs: 800,
    signal: slow,
    fullScaleMPerS2: 4,
    channels: [
      { sensor: 0, axis: 'x' as const },
      { sensor: 0, axis: 'z' as const },
      { sensor: 1, axis: 'x' as const },
    ],
  };

  it('gives contiguous samples in event time at the true rate', async () => {
    const node = simulatedNode(options);
    const dir = await journal([...packets(node, 0, 600), ...exchanges(node, 5, 70)]);
    expect((await readdir(dir)).filter((name) => name.endsWith('.journal')).length).toBeGreaterThan(2);
    const span = { fromMs: (START_S + 40) * 1000, toMs: (START_S + 52.5) * 1000 };
    const capture = await cutCapture(dir, [SENSOR], [span]);
    const { stretches, gaps } = capture.sensors[0]!;
    expect(gaps).toEqual([]);
    expect(stretches).toHaveLength(1);
    const [stretch] = stretches as [CaptureStretch];
    expect(stretch.axes).toEqual(['x', 'z']);
    expect(Math.abs(stretch.sampleRateHz / (3200 * 1.023) - 1)).toBeLessThan(5e-5);
    expect(stretch.samples[0]!.length).toBeCloseTo(12.5 * 3273.6, -1);
    expect(stretch.startMs).toBeGreaterThanOrEqual(span.fromMs - 0.01);
    expect(stretch.startMs).toBeLessThan(span.fromMs + 0.4);
    // The clock is read with 0.8 ms of jitter and known to 2 ms (half the round trip of the exchanges).
    expect(timeErrorMs(stretch, 0)).toBeLessThan(3);
    expect(timeErrorMs(stretch, 1)).toBeLessThan(3);
    expect(stretch.timeUncertaintyMs).toBeLessThan(3);
  });

  it('does so from the first samples of a boot, when rate and clock became known only later', async () => {
    const node = simulatedNode(options);
    const dir = await journal([...packets(node, 0, 400), ...exchanges(node, 5, 45)]);
    const span = { fromMs: START_S * 1000, toMs: (START_S + 6) * 1000 };
    const { stretches } = (await cutCapture(dir, [SENSOR], [span])).sensors[0]!;
    expect(stretches).toHaveLength(1);
    expect(timeErrorMs(stretches[0]!)).toBeLessThan(4);
    expect(stretches[0]!.samples[0]!.length).toBeCloseTo(6 * 3273.6, -2);
  });

  it('keeps two sensors of a board on the same samples', async () => {
    const node = simulatedNode(options);
    const dir = await journal([...packets(node, 0, 300), ...exchanges(node, 5, 35)]);
    const span = { fromMs: (START_S + 20) * 1000, toMs: (START_S + 22) * 1000 };
    const capture = await cutCapture(dir, [SENSOR, { nodeId: NODE, sensor: 1 }], [span]);
    const [first, second] = capture.sensors.map(({ stretches }) => stretches[0]!);
    expect(second!.startMs).toBe(first!.startMs);
    expect(second!.sampleRateHz).toBe(first!.sampleRateHz);
    // Channel 2 shakes three times as much as channel 0.
    const errors = first!.samples[0]!.map((raw, i) => Math.abs(3 * raw - second!.samples[0]![i]!));
    expect(Math.max(...errors)).toBeLessThanOrEqual(3);
  });

  it('states gaps, and puts late and repeated packets where they belong', async () => {
    const node = simulatedNode(options);
    const sent = packets(node, 0, 500);
    const missing = sent.splice(200, 4);
    const late = sent.slice(230, 240).map((packet) => ({ ...packet, arrivedAtUs: packet.arrivedAtUs + 9e6 }));
    const dir = await journal([
      ...sent.filter((_, i) => i < 230 || i >= 240),
      ...late,
      ...sent.slice(300, 305),
      ...exchanges(node, 5, 55),
    ]);
    expect(missing).toHaveLength(4);
    const span = { fromMs: (START_S + 18) * 1000, toMs: (START_S + 45) * 1000 };
    const { stretches, gaps } = (await cutCapture(dir, [SENSOR], [span])).sensors[0]!;
    expect(gaps).toHaveLength(1);
    const perPacketMs = (1000 * 400) / 3273.6;
    expect(gaps[0]!.fromMs).toBeCloseTo(START_S * 1000 + 200 * perPacketMs, -1);
    expect(gaps[0]!.toMs - gaps[0]!.fromMs).toBeCloseTo(4 * perPacketMs, -1);
    expect(stretches).toHaveLength(2);
    for (const stretch of stretches) expect(timeErrorMs(stretch)).toBeLessThan(4);
  });

  it('cuts several spans at once and reads only around them', async () => {
    const node = simulatedNode({ ...options, nominalRateHz: 400, framesPerPacket: 400 });
    const dir = await journal([...packets(node, 0, 900), ...exchanges(node, 5, 890)]);
    const at = (s: number) => ({ fromMs: (START_S + s) * 1000, toMs: (START_S + s + 2) * 1000 });
    const { sensors } = await cutCapture(dir, [SENSOR], [at(20), at(30), at(800)], { leadMs: 60_000 });
    expect(sensors[0]!.gaps).toEqual([]);
    expect(sensors[0]!.stretches.map(({ startMs }) => Math.round(startMs / 1000 - START_S))).toEqual([
      20, 30, 800,
    ]);
    for (const stretch of sensors[0]!.stretches) expect(timeErrorMs(stretch)).toBeLessThan(4);
  });

  it('says nothing was there for a sensor that did not send', async () => {
    const node = simulatedNode(options);
    const dir = await journal(packets(node, 0, 50));
    const span = { fromMs: START_S * 1000, toMs: (START_S + 4) * 1000 };
    const { sensors } = await cutCapture(dir, [{ nodeId: '00000000000000b2', sensor: 0 }], [span]);
    expect(sensors[0]).toMatchObject({ stretches: [], gaps: [span] });
  });

  it('marks where the sensor was out of its range', async () => {
    const node = simulatedNode({
      ...options,
      signal: (unixS) => (unixS > START_S + 10 && unixS < START_S + 10.1 ? -4 : 1),
    });
    const messages = packets(node, 0, 200);
    const dir = await journal([...messages, ...exchanges(node, 5, 20)]);
    const span = { fromMs: (START_S + 8) * 1000, toMs: (START_S + 14) * 1000 };
    const { clipped } = (await cutCapture(dir, [SENSOR], [span])).sensors[0]!.stretches[0]!;
    expect(clipped).toHaveLength(1);
    expect(clipped[0]!.fromMs).toBeLessThanOrEqual((START_S + 10) * 1000 + 5);
    expect(clipped[0]!.toMs).toBeGreaterThan((START_S + 10.09) * 1000);
    expect(clipped[0]!.toMs - clipped[0]!.fromMs).toBeLessThan(400);
  });

  it('refuses more than fits into memory, and says what to do', async () => {
    const node = simulatedNode(options);
    const dir = await journal(packets(node, 0, 400));
    const span = { fromMs: START_S * 1000, toMs: (START_S + 50) * 1000 };
    await expect(cutCapture(dir, [SENSOR], [span], { maxBytes: 100_000 })).rejects.toMatchObject({
      code: 'CAPTURE_TOO_LARGE',
      remedy: expect.stringContaining('shorter span'),
    });
  });

  it('any order of arrival within the waiting time gives the same samples', async () => {
    const node = simulatedNode(options);
    const sent = packets(node, 0, 300);
    const random = seeded(5);
    const shuffled = sent.map((packet) => ({
      ...packet,
      arrivedAtUs: Math.round(packet.arrivedAtUs + random() * 1.2e6),
    }));
    const times = exchanges(node, 5, 35);
    const span = { fromMs: (START_S + 12) * 1000, toMs: (START_S + 30) * 1000 };
    const [ordered, mixed] = await Promise.all(
      [sent, shuffled].map(async (some) =>
        cutCapture(await journal([...some, ...times]), [SENSOR], [span]).then(({ sensors }) => sensors[0]!),
      ),
    );
    expect(mixed!.gaps).toEqual([]);
    expect(mixed!.stretches).toHaveLength(1);
    const shift = Math.round(
      ((mixed!.stretches[0]!.startMs - ordered!.stretches[0]!.startMs) / 1000) * 3273.6,
    );
    expect(Math.abs(shift)).toBeLessThanOrEqual(4);
    for (const stretch of mixed!.stretches) expect(timeErrorMs(stretch)).toBeLessThan(4);
  });
});
