import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { type Bridge, createBridge, type JournalWriter, openJournalWriter } from '../../../broker/index.ts';
import {
  decodeTimeAnswer,
  encodeEvent,
  encodeTimeRequest,
  nodeTopic,
  TimeSource,
  toNodeTopic,
} from '../../../firmware-protocol/index.ts';
import { failingDisk } from '../journal/failing-disk.ts';
import {
  allRecords,
  type MemoryLog,
  memoryLog,
  NODE,
  SITE,
  samplePacket,
  samplesTopic,
  sequenceOf,
  statusTopic,
  tempFolder,
} from '../station.ts';
import { OUTSIDE_BROKERS, type OutsideBroker } from './outside-broker.ts';

const { absent, run } = OUTSIDE_BROKERS[0]!;
const WAIT = { timeout: 15_000, interval: 50 };

it('refuses an address that is none', async () => {
  const deps = { journal: {} as JournalWriter, journalDir: '/nowhere', log: memoryLog() };
  await expect(createBridge({ site: SITE, url: 'somewhere' }, deps)).rejects.toMatchObject({
    code: 'BROKER_BAD_SETTING',
    message: expect.stringContaining('--bridge somewhere'),
  });
});

describe.skipIf(absent !== null)(`a bridge to mosquitto${absent === null ? '' : ` (${absent})`}`, () => {
  if (absent !== null) console.warn(absent);
  let broker: OutsideBroker;
  let folder: Awaited<ReturnType<typeof tempFolder>>;
  let journalDir: string;
  let log: MemoryLog;
  let node: MqttClient;
  let stop: () => Promise<void>;
  const disk = failingDisk();
  const events: string[] = [];

  async function station(): Promise<Bridge> {
    const journal = await openJournalWriter(journalDir, log, { disk, retryMs: 10 });
    const { url, username, password } = broker;
    const heardEvent = (topic: string) => void events.push(topic);
    const deps = { journal, journalDir, log, heardEvent };
    const bridge = await createBridge({ site: SITE, url, username, password }, deps);
    stop = async () => {
      // The journal first: what it did not take must not be acknowledged on the way out either.
      await journal.close();
      await bridge.close();
    };
    await vi.waitFor(() => expect(bridge.connected()).toBe(true), WAIT);
    return bridge;
  }
  const sequences = async () => (await allRecords(journalDir)).map(sequenceOf);

  beforeAll(async () => {
    broker = await run();
  }, 60_000);
  afterAll(() => broker?.close());

  beforeEach(async () => {
    folder = await tempFolder();
    journalDir = join(folder.path, 'journal');
    log = memoryLog();
    const { url, username, password } = broker;
    node = await mqtt.connectAsync(url, { username, password, protocolVersion: 4 });
  });
  afterEach(async () => {
    disk.heal();
    await stop();
    await node.endAsync(true);
    await folder.remove();
  });

  it('acknowledges only what the disk has taken: the rest comes to the next start', async () => {
    await station();
    await node.publishAsync(samplesTopic(), samplePacket(0), { qos: 1 });
    await vi.waitFor(async () => expect(await sequences()).toEqual([0]), WAIT);
    disk.fail('sync', 'ENOSPC');
    for (const sequence of [1, 2, 3]) {
      await node.publishAsync(samplesTopic(), samplePacket(sequence), { qos: 1 });
    }
    await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(5), WAIT);
    await stop();
    // Sent while the station is away.
    await node.publishAsync(samplesTopic(), samplePacket(4), { qos: 1 });
    disk.heal();
    await station();
    await vi.waitFor(async () => expect((await sequences()).sort()).toEqual([0, 1, 2, 3, 4]), WAIT);
  });

  it('acknowledges, counts and reports what is no message, and goes on behind it', async () => {
    const bridge = await station();
    await node.publishAsync(samplesTopic(), samplePacket(0).subarray(0, 60), { qos: 1 });
    await node.publishAsync(samplesTopic('00a1b2c3d4e5f6ff'), samplePacket(0), { qos: 1 });
    await node.publishAsync(`clampline/${SITE}/node/${NODE}/gossip`, 'x', { qos: 1 });
    await node.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    await vi.waitFor(async () => expect(await sequences()).toEqual([1]), WAIT);
    expect(bridge.counters()).toMatchObject({ refusedWrongIdentity: 1, foreignTopics: 1, journaled: 1 });
    expect(log.lines.join('\n')).toMatch(/not kept/);
    await stop();
    // Acknowledged: they do not come again.
    const again = await station();
    await node.publishAsync(samplesTopic(), samplePacket(2), { qos: 1 });
    await vi.waitFor(async () => expect(await sequences()).toEqual([1, 2]), WAIT);
    expect(again.counters()).toMatchObject({ messages: 1 });
  });

  it('answers questions for the time, and passes on what the station says to a node', async () => {
    const bridge = await station();
    const heard: [string, Buffer][] = [];
    node.on('message', (topic, payload) => void heard.push([topic, payload]));
    await node.subscribeAsync(toNodeTopic(SITE, NODE, '+'), { qos: 1 });
    const question = encodeTimeRequest({ nodeId: NODE, bootId: 7, t0Us: 5n, previous: null });
    await node.publishAsync(nodeTopic({ site: SITE, nodeId: NODE, kind: 'time' }), Buffer.from(question));
    bridge.pass(toNodeTopic(SITE, NODE, 'command'), Buffer.from('tap'));
    bridge.pass(`clampline/${SITE}/reading/${NODE}/0`, Buffer.from('not for a node'));
    await vi.waitFor(() => expect(heard).toHaveLength(2), WAIT);
    const answer = heard.find(([topic]) => topic.endsWith('/time'))![1];
    expect(decodeTimeAnswer(answer)).toMatchObject({ ok: true, message: { t0Us: 5n, bootId: 7 } });
    expect(heard.map(([topic]) => topic)).toContain(toNodeTopic(SITE, NODE, 'command'));
  });

  it("tells other parts of a node's events at once, and of nothing else", async () => {
    await station();
    const topic = nodeTopic({ site: SITE, nodeId: NODE, kind: 'event' });
    const event = encodeEvent({
      nodeId: NODE,
      bootId: 7,
      eventCount: 0,
      timeSource: TimeSource.Free,
      sample: null,
      event: 'tap',
      sensor: 0,
      nodeClockUs: 5n,
      commandId: 0,
      result: 0,
      value: 1,
    });
    await node.publishAsync(samplesTopic(), samplePacket(0), { qos: 1 });
    await node.publishAsync(topic, Buffer.from(event), { qos: 1 });
    await vi.waitFor(() => expect(events).toEqual([topic]), WAIT);
    expect(await allRecords(journalDir)).toHaveLength(2);
  });

  it('leaves what the broker had kept from before: it did not arrive now', async () => {
    await node.publishAsync(statusTopic(), samplePacket(0), { qos: 1, retain: true });
    const bridge = await station();
    await vi.waitFor(() => expect(bridge.counters()['retainedLeft']).toBe(1), WAIT);
    await node.publishAsync(statusTopic(), '', { qos: 1, retain: true });
    expect(await allRecords(journalDir)).toEqual([]);
  });

  it('waits for a broker that is away, and says when it has forgotten the station', async () => {
    const bridge = await station();
    await broker.kill();
    await vi.waitFor(() => expect(bridge.connected()).toBe(false), WAIT);
    expect(log.lines.join('\n')).toMatch(/lost the broker at 127\.0\.0\.1:\d+; it is tried again/);
    await broker.start();
    await vi.waitFor(() => expect(bridge.connected()).toBe(true), WAIT);
    await vi.waitFor(() => expect(node.connected).toBe(true), WAIT);
    await node.publishAsync(samplesTopic(), samplePacket(9), { qos: 1 });
    await vi.waitFor(async () => expect(await sequences()).toEqual([9]), WAIT);
  });
});
