import { describe, expect, it } from 'vitest';
import { createPipeline } from '../../../collector/pipeline/pipeline.ts';
import { type ChannelLayout, crc32c, encodeStatus, offlineStatus } from '../../../firmware-protocol/index.ts';
import { amplitudeOf, seeded, simulatedNode } from '../../support/simulated-node.ts';
import { byArrival, journalOf, runPipeline, sound } from './run.ts';

const START_S = 1_760_000_000.25;

function exchangesOf(node: ReturnType<typeof simulatedNode>, untilS: number) {
  const times = [-4, -3, -2, -1];
  for (let s = 20; s < untilS; s += 30) times.push(s);
  return times.map((s) => node.exchange(s));
}

/** Independent normal samples (sum of twelve uniform numbers). */
function gaussian(seed: number, sigma: number): () => number {
  const random = seeded(seed);
  return () => sigma * (upTo(12).reduce((sum) => sum + random(), 0) - 6);
}

const upTo = (count: number, from = 0) => Array.from({ length: count - from }, (_, i) => from + i);

describe('readings', () => {
  it.each([0.95, 0.99, 1, 1.05])(
    'hold the level of their own second at %f of the nominal rate',
    (rateFactor) => {
      const node = simulatedNode({
        startS: START_S,
        rateFactor,
        clockPpm: 30,
        jitterUs: 1000,
        random: seeded(2),
      });
      const packets = upTo(node.packetsIn(90)).map((i) => node.packet(i));
      const { readings, counters } = runPipeline(journalOf(byArrival(packets, exchangesOf(node, 90))));
      const found = sound(readings);
      expect(found.size).toBeGreaterThanOrEqual(86);
      for (const [second, reading] of found) {
        const measured = reading.axes[0]!.accelerationRmsMPerS2! * Math.SQRT2;
        expect(Math.abs(measured / amplitudeOf(second) - 1)).toBeLessThan(0.01);
        expect(reading.timeUncertaintyMs!).toBeLessThan(10);
      }
      const late = found.get(Math.floor(START_S) + 80)!;
      expect(Math.abs(late.sampleRateHz / (3200 * rateFactor) - 1)).toBeLessThan(1e-4);
      expect(counters['packets']).toBe(packets.length);
    },
  );

  it('read a steady tone right although the true rate is 5 % off', () => {
    // Velocity of a tone: a / (2 pi f sqrt 2).
    for (const rateFactor of [0.95, 1.05]) {
      const signal = (s: number) => 2 * Math.sin(2 * Math.PI * 50 * (s - START_S));
      const node = simulatedNode({ startS: START_S, rateFactor, signal, jitterUs: 500 });
      const packets = upTo(node.packetsIn(30)).map((i) => node.packet(i));
      const { readings } = runPipeline(journalOf(byArrival(packets, exchangesOf(node, 30))));
      const expected = (2 * 1000) / (2 * Math.PI * 50 * Math.SQRT2);
      const found = [...sound(readings).values()];
      expect(found.length).toBeGreaterThan(26);
      for (const { axes } of found) {
        expect(Math.abs(axes[0]!.velocityRmsMmPerS! / expected - 1)).toBeLessThan(0.01);
      }
    }
  });

  it('keep the axes of a sensor together and sensors apart', () => {
    const channels: ChannelLayout[] = [
      { sensor: 0, axis: 'x' },
      { sensor: 3, axis: 'single' },
      { sensor: 0, axis: 'z' },
    ];
    const node = simulatedNode({
      replay: true,
      channels,
      signal: (s, channel) => (channel + 1) * Math.sin(2 * Math.PI * 80 * s),
    });
    const { readings } = runPipeline(journalOf(upTo(node.packetsIn(6)).map((i) => node.packet(i))));
    const whole = readings.filter((r) => r.flags.length === 0);
    const [zero, three] = [0, 3].map((sensor) => whole.find((r) => r.sensor === sensor)!);
    expect(zero!.axes.map((a) => a.axis)).toEqual(['x', 'z']);
    expect(three!.axes.map((a) => a.axis)).toEqual(['single']);
    const rms = [...zero!.axes, ...three!.axes].map((a) => a.accelerationRmsMPerS2! * Math.SQRT2);
    expect(rms[0]).toBeCloseTo(1, 2);
    expect(rms[1]).toBeCloseTo(3, 2);
    expect(rms[2]).toBeCloseTo(2, 2);
  });

  it('start from the rate of the boot before', () => {
    const options = { rateFactor: 1.04, jitterUs: 800, signal: () => 0 };
    const [first, second] = [
      simulatedNode({ ...options, startS: START_S, bootId: 1 }),
      simulatedNode({ ...options, startS: START_S + 100, bootId: 2 }),
    ];
    const messages = byArrival(
      upTo(first.packetsIn(60)).map((i) => first.packet(i)),
      upTo(second.packetsIn(3)).map((i) => second.packet(i)),
      exchangesOf(first, 60),
      exchangesOf(second, 3),
    );
    const { readings } = runPipeline(journalOf(messages));
    const fresh = readings.find((r) => r.startMs >= (START_S + 100) * 1000 - 1000)!;
    expect(Math.abs(fresh.sampleRateHz / (3200 * 1.04) - 1)).toBeLessThan(1e-3);
  });

  it('say what is wrong with a packet, and nothing else suffers', () => {
    const node = simulatedNode({ replay: true });
    const other = simulatedNode({ replay: true, nodeId: '00000000000000ff' });
    const messages = upTo(node.packetsIn(10)).flatMap((i) => {
      const good = node.packet(i);
      const damaged = Uint8Array.from(good.payload);
      damaged[100]! ^= 1;
      return [
        good,
        { ...good, payload: damaged },
        { ...good, payload: good.payload.subarray(0, 30) },
        { ...other.packet(i), topic: good.topic },
        { ...good, topic: 'clampline/depot/node/xyz/samples' },
        { ...good, topic: good.topic.replace('samples', 'time') },
      ];
    });
    const { readings, counters } = runPipeline(journalOf(messages));
    const n = node.packetsIn(10);
    expect(counters).toEqual({
      packets: n,
      'malformed-samples-BadChecksum': n,
      'malformed-samples-TooShort': n,
      'malformed-time-BadKind': n,
      'wrong-node': n,
      'other-topic': n,
    });
    expect(sound(readings).size).toBe(8);
  });

  it('say what is wrong with a block', () => {
    const flagged = (options: Parameters<typeof simulatedNode>[0]) => {
      const node = simulatedNode({ replay: true, ...options });
      const { readings } = runPipeline(journalOf(upTo(node.packetsIn(5)).map((i) => node.packet(i))));
      return readings.at(-1)!;
    };
    const tone = (amplitude: number) => (s: number) => amplitude * Math.sin(2 * Math.PI * 80 * s);
    const clipping = (s: number) => Math.max(-79.99, Math.min(79.99, tone(200)(s)));
    expect(flagged({ signal: clipping }).flags).toEqual(['clipped']);
    expect(flagged({ signal: () => 1 }).flags).toContain('stuck');
    expect(flagged({ nominalRateHz: 1000, framesPerPacket: 100 }).flags).toEqual(['band-not-covered']);
    const slow = flagged({ nominalRateHz: 25, framesPerPacket: 25, signal: tone(1) });
    expect(slow).toMatchObject({ flags: ['band-not-covered'], axes: [{ velocityRmsMmPerS: null }] });
  });

  it('are null and flagged while the scale is not known', () => {
    const node = simulatedNode({ replay: true, fullScaleMPerS2: 80 });
    const unscaled = journalOf(upTo(node.packetsIn(5)).map((i) => node.packet(i))).map((record) => {
      const payload = Uint8Array.from(record.payload);
      new DataView(payload.buffer).setUint32(40, 0, true);
      new DataView(payload.buffer).setUint32(payload.length - 4, crc32c(payload.subarray(0, -4)), true);
      return { ...record, payload };
    });
    const last = runPipeline(unscaled).readings.at(-1)!;
    expect(last.flags).toEqual(['unknown-scale']);
    expect(last.axes[0]).toMatchObject({ velocityRmsMmPerS: null, accelerationRmsMPerS2: null });
  });

  it('are flagged when they are below the noise floor that the status tells', () => {
    const node = simulatedNode({ replay: true, signal: gaussian(3, 0.02) });
    const packets = upTo(node.packetsIn(5)).map((i) => node.packet(i));
    const flagsAt = (noiseDensityUmPerS2PerRtHz: number) => {
      const status = { ...packets[0]!, topic: packets[0]!.topic.replace('samples', 'status') };
      const payload = encodeStatus({
        ...offlineStatus({ nodeId: node.nodeId, bootId: 7 }),
        noiseDensityUmPerS2PerRtHz,
      });
      return runPipeline(journalOf([{ ...status, payload }, ...packets])).readings.at(-1)!.flags;
    };
    // Standard deviation 0.02 over 1600 Hz is a density of 500 um/s² per root Hz.
    expect(flagsAt(600)).toEqual(['below-noise-floor']);
    expect(flagsAt(100)).toEqual([]);
  });

  it('are not made for a time that cannot have come yet', () => {
    const node = simulatedNode({ replay: true });
    const early = upTo(node.packetsIn(5)).map((i) => ({
      ...node.packet(i),
      arrivedAtUs: (START_S - 2 * 86_400) * 1e6,
    }));
    const { readings, counters } = runPipeline(journalOf(early));
    expect(readings).toEqual([]);
    expect(counters['time-in-future']).toBeGreaterThan(3);
  });
});

describe('memory', () => {
  it('holds so many nodes and no more, the longest silent goes', () => {
    const pipeline = createPipeline({ maxNodes: 3 });
    const nodes = upTo(5).map((n) => simulatedNode({ replay: true, nodeId: `00000000000000c${n}` }));
    let position = 0;
    const send = (n: number, i: number) =>
      pipeline.accept({ ...nodes[n]!.packet(i, 0.02 + n / 1000), position: ++position });
    for (let i = 0; i < 16; i++) for (const n of [0, 1, 2]) send(n, i);
    for (let i = 16; i < 20; i++) for (const n of [1, 2]) send(n, i);
    pipeline.checkpoint();
    for (let i = 20; i < 24; i++) send(3, i);
    const { set, remove } = pipeline.checkpoint();
    expect(set.map(([key]) => key)).toEqual(['clock', 'node/00000000000000c3']);
    expect(remove).toEqual(['node/00000000000000c0']);
    expect(pipeline.counters()).toMatchObject({ 'node-forgotten': 1 });
  });

  it('closes idle stretches when the samples kept are too many', () => {
    const run = (maxSampleBytes: number) => {
      const pipeline = createPipeline({ maxSampleBytes });
      const nodes = upTo(8).map((n) => simulatedNode({ replay: true, nodeId: `00000000000000c${n}` }));
      // Every other second is missing, so that each node has several stretches that could still grow.
      const messages = byArrival(
        ...nodes.map((node) =>
          upTo(160)
            .filter((i) => i % 16 < 8)
            .map((i) => node.packet(i)),
        ),
      );
      for (const record of journalOf(messages)) pipeline.accept(record);
      const open = pipeline
        .checkpoint()
        .set.flatMap(([key, json]) => (key === 'clock' ? [] : JSON.parse(json).boots[0].segments));
      return { open: open.length, counters: pipeline.counters() };
    };
    const free = run(1e9);
    const bound = run(300_000);
    expect(free.counters['samples-over-limit']).toBeUndefined();
    expect(bound.counters['samples-over-limit']).toBeGreaterThan(0);
    expect(bound.open).toBeLessThan(free.open);
    expect(bound.open).toBeGreaterThanOrEqual(8);
  });

  it('does not grow with the boots of a node', () => {
    const pipeline = createPipeline();
    let position = 0;
    let size = 0;
    for (let bootId = 1; bootId <= 40; bootId++) {
      const node = simulatedNode({ replay: true, bootId, startS: START_S + bootId * 10 });
      for (const i of upTo(node.packetsIn(4))) pipeline.accept({ ...node.packet(i), position: ++position });
      const { set } = pipeline.checkpoint();
      size = set.find(([key]) => key.startsWith('node/'))![1].length;
    }
    expect(size).toBeLessThan(4000);
  });
});
