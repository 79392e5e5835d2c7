import { describe, expect, it } from 'vitest';
import { createPipeline, type PipelineRecord } from '../../../collector/pipeline/pipeline.ts';
import { judgeNode } from '../../../collector/rig/soundness.ts';
import {
  encodeEvent,
  encodeStatus,
  type NodeStatus,
  nodeTopic,
  offlineStatus,
  TimeSource,
} from '../../../firmware-protocol/index.ts';
import { bangingSensor } from '../../support/banging-sensor.ts';
import { type SentMessage, simulatedNode } from '../../support/simulated-node.ts';
import { byArrival, journalOf, saveInto } from '../pipeline/run.ts';

type SimulatedNode = ReturnType<typeof simulatedNode>;

const START_S = 1_760_000_000.25;

function status(node: SimulatedNode, atS: number, fields: Partial<NodeStatus> = {}): SentMessage {
  const message: NodeStatus = {
    ...offlineStatus({ nodeId: node.nodeId, bootId: 7 }),
    state: 'sampling',
    resetCause: 'power',
    nodeClockUs: BigInt(Math.round(60e6 + atS * 1e6)),
    batteryPercent: 81,
    signalDbm: -61,
    firmwareVersion: '1.4.0',
    ...fields,
  };
  return {
    topic: nodeTopic({ site: 'depot', nodeId: node.nodeId, kind: 'status' }),
    payload: encodeStatus(message),
    arrivedAtUs: (START_S + atS) * 1e6,
  };
}

function healthAfter(messages: SentMessage[]) {
  const pipeline = createPipeline();
  for (const record of journalOf(byArrival(messages))) pipeline.accept(record);
  return { pipeline, health: pipeline.health()[0]! };
}

const packets = (node: SimulatedNode, seconds: number, left: (index: number) => boolean = () => true) =>
  Array.from({ length: node.packetsIn(seconds) }, (_, i) => i)
    .filter(left)
    .map((i) => node.packet(i));

describe("a node's health", () => {
  it('tells status, boot, clock, true rate and gravity', () => {
    const node = simulatedNode({
      rateFactor: 1.021,
      clockPpm: 40,
      channels: [
        { sensor: 0, axis: 'x' },
        { sensor: 0, axis: 'y' },
        { sensor: 0, axis: 'z' },
        { sensor: 3, axis: 'single' },
      ],
      signal: (unixS, channel) => [1.5, -2, 9.4, 0.5][channel]! + 0.2 * Math.sin(2 * Math.PI * 80 * unixS),
    });
    const exchanges = [0.5, 15, 30, 45, 60].map((atS) => node.exchange(atS, 0.0002, 0.0002));
    const { health } = healthAfter([status(node, 0.1), ...exchanges, ...packets(node, 70)]);
    expect(health).toMatchObject({
      nodeId: node.nodeId,
      status: { state: 'sampling', batteryPercent: 81, signalDbm: -61, firmwareVersion: '1.4.0' },
      boot: { bootId: 7, resetCause: 'power', packetsMissing: 0, packetsReceived: node.packetsIn(70) },
      clock: { source: 'synced' },
    });
    // The simulated clock began 60 s before the first sample.
    expect(health.boot!.startedMs / 1000).toBeCloseTo(START_S - 60, 1);
    // Round trips of 0.4 ms over a minute leave about 7 ppm open.
    expect(Math.abs(health.clock.errorPpm! - 40)).toBeLessThan(10);
    expect(health.clock.uncertaintyMs).toBeLessThan(5);
    expect(health.sensors.map(({ sensor }) => sensor)).toEqual([0, 3]);
    expect(health.sensors[0]!.nominalRateHz).toBe(3200);
    expect(health.sensors[0]!.trueRateHz! / 3200).toBeCloseTo(1.021, 3);
    for (const [axis, value] of [1.5, -2, 9.4].entries())
      expect(health.sensors[0]!.gravityMPerS2![axis]).toBeCloseTo(value, 2);
    expect(health.sensors[1]!.gravityMPerS2).toBeNull();
  }, 60_000);

  it('counts the packets that did not come, and takes back those that come late', () => {
    const node = simulatedNode();
    const lost = [20, 21, 22, 50];
    const sent = packets(node, 10, (i) => !lost.includes(i));
    expect(healthAfter(sent).health.boot!.packetsMissing).toBe(4);
    // Missing at the end is known from the status alone.
    const told = status(node, 10, { nextSequence: 90, droppedPackets: 2, overruns: 1 });
    const { health } = healthAfter([...sent, told]);
    expect(health.boot).toMatchObject({ packetsMissing: 14, packetsDropped: 2, overruns: 1 });
    const late = lost.slice(0, 3).map((i) => node.packet(i, 8));
    expect(healthAfter([...sent, ...late, ...late]).health.boot!.packetsMissing).toBe(1);
  });

  it('does not count what was sent before the station was there', () => {
    const node = simulatedNode();
    expect(healthAfter(packets(node, 10, (i) => i >= 40)).health.boot!.packetsMissing).toBe(0);
  });

  it('begins anew with a boot, and late packets of the one before do not disturb it', () => {
    const old = simulatedNode({ bootId: 7 });
    const fresh = simulatedNode({ bootId: 8, startS: START_S + 20 });
    const second = status(fresh, 20, { bootId: 8, nodeClockUs: 60_000_000n, resetCause: 'watchdog' });
    const messages = [
      status(old, 0),
      ...packets(old, 5),
      second,
      ...packets(fresh, 3),
      // Left over in the node's flash; and the notice of the connection that broke.
      ...packets(old, 8, (i) => i >= 48).map((m) => ({ ...m, arrivedAtUs: m.arrivedAtUs + 20e6 })),
      { ...status(old, 21, { state: 'offline' }) },
    ];
    const { health } = healthAfter(messages);
    expect(health.boot).toMatchObject({ bootId: 8, resetCause: 'watchdog', packetsMissing: 0 });
    expect(health.boot!.packetsReceived).toBe(fresh.packetsIn(3));
    expect(health.status!.state).toBe('sampling');
  });

  it('keeps what a node said of itself when it goes offline', () => {
    const node = simulatedNode();
    const { health } = healthAfter([
      status(node, 0),
      status(node, 5, { ...offlineStatus({ nodeId: node.nodeId, bootId: 7 }) }),
    ]);
    expect(health.status).toMatchObject({ state: 'offline', batteryPercent: 81, firmwareVersion: '1.4.0' });
  });

  it('tells the share of clipped seconds and the quietest one', () => {
    const channels = (['x', 'y', 'z'] as const).map((axis) => ({ sensor: 0, axis }));
    const startS = Math.ceil(START_S / 600) * 600;
    // Seconds 5 and 6 strike the end of the range; second 8 is quiet: 0.2 m/s² RMS on each axis.
    const signal = (unixS: number) => {
      const second = Math.floor(unixS - startS);
      const wave = Math.sin(2 * Math.PI * 80 * unixS);
      if (second === 5 || second === 6) return Math.max(-80, Math.min(79.99, 120 * wave));
      return (second === 8 ? 0.2 : 2) * Math.SQRT2 * wave;
    };
    const node = simulatedNode({ replay: true, startS, channels, signal });
    const { health } = healthAfter(packets(node, 12));
    const [sensor] = health.sensors;
    expect(sensor!.clippedSeconds).toBe(2);
    expect(sensor!.recentSeconds).toBeGreaterThanOrEqual(11);
    expect(sensor!.quietest!.startMs).toBe((startS + 8) * 1000);
    expect(sensor!.quietest!.accelerationRmsMPerS2).toBeCloseTo(0.2, 2);
    expect(sensor!.quietest!.noiseDensityUmPerS2PerRtHz).toBeCloseTo(0.2e6 / Math.sqrt(1600), -1);
    expect(health.clock.source).toBe('replay');
  });

  it('counts the seconds in which the sensor banged in its clamp, and calls it loose', () => {
    const startS = Math.ceil(START_S / 600) * 600;
    const { base, loose } = bangingSensor(3200, 14);
    const at = (signal: Float64Array, unixS: number) => signal[Math.round((unixS - startS) * 3200)] ?? 0;
    const signal = (unixS: number) => at(unixS - startS < 4 ? base : loose, unixS);
    const node = simulatedNode({ replay: true, startS, fullScaleMPerS2: 1000, signal });
    const { health } = healthAfter(packets(node, 14));
    expect(health.sensors[0]!.rattlingSeconds).toBeGreaterThanOrEqual(8);
    const reasons = judgeNode({ health, lastDataMs: 1000 * startS, nowMs: 1000 * startS }).reasons;
    expect(reasons).toContainEqual(
      expect.objectContaining({ code: 'rattling', severity: 'fault', sensor: 0 }),
    );
  });

  it('is said of all nodes after a restart, and then only of those heard', () => {
    const node = simulatedNode();
    const { pipeline, health } = healthAfter([status(node, 0), ...packets(node, 5)]);
    expect(pipeline.health()).toEqual([]);
    const rows = new Map<string, string>();
    saveInto(rows, pipeline.checkpoint());
    expect(createPipeline({}, [...rows]).health()).toEqual([health]);
  });
});

describe('a tap that a node tells of', () => {
  const node = simulatedNode();
  const event = (eventCount: number, atS: number, delayS = 0.1): SentMessage => ({
    topic: nodeTopic({ site: 'depot', nodeId: node.nodeId, kind: 'event' }),
    arrivedAtUs: (START_S + atS + delayS) * 1e6,
    payload: encodeEvent({
      nodeId: node.nodeId,
      bootId: 7,
      eventCount,
      nodeClockUs: BigInt(60e6 + atS * 1e6),
      timeSource: TimeSource.Synced,
      sample: null,
      event: 'tap',
      sensor: 2,
      commandId: 0,
      result: 0,
      value: 31_500,
    }),
  });
  const tapsOf = (messages: SentMessage[]) => {
    const pipeline = createPipeline();
    return journalOf(byArrival(messages)).flatMap((record: PipelineRecord) => pipeline.accept(record).taps);
  };

  it('is placed by its own clock and counted once', () => {
    const messages = [node.exchange(0.5), ...packets(node, 4), event(1, 3), event(1, 3, 0.5)];
    const taps = tapsOf(messages);
    expect(taps).toEqual([
      expect.objectContaining({ nodeId: node.nodeId, sensor: 2, peakMPerS2: 31.5, source: 'node' }),
    ]);
    expect(Math.abs(taps[0]!.atMs - (START_S + 3) * 1000)).toBeLessThan(5);
  });

  it('is no news when it comes late', () => {
    expect(tapsOf([node.exchange(0.5), ...packets(node, 4), event(1, 3, 60)])).toEqual([]);
  });
});
