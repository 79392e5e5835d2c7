import { afterEach, describe, expect, it, vi } from 'vitest';
import { encodeStatus, offlineStatus } from '../../firmware-protocol/index.ts';
import {
  NODE,
  OTHER_NODE,
  SITE,
  type Station,
  samplePacket,
  samplesTopic,
  sequenceOf,
  startStation,
  statusTopic,
} from './station.ts';

let station: Station;
afterEach(() => station.close());

const count = (name: string) => station.broker.counters()[name] ?? 0;
const offline = Buffer.from(encodeStatus(offlineStatus({ nodeId: NODE, bootId: 7 })));

describe('a node publishes samples', () => {
  it('finds each acknowledged packet in the journal, in order, with its time of arrival', async () => {
    station = await startStation();
    const before = Date.now() * 1000 - 5000;
    const client = await station.connect();
    for (let i = 0; i < 50; i++) await client.publishAsync(samplesTopic(), samplePacket(i), { qos: 1 });

    const records = await station.records();
    expect(records.map(sequenceOf)).toEqual(Array.from({ length: 50 }, (_, i) => i));
    let last = before;
    for (const record of records) {
      expect(record.topic).toBe(samplesTopic());
      expect(record.arrivedAtUs).toBeGreaterThanOrEqual(last);
      last = record.arrivedAtUs;
    }
    expect(last).toBeLessThan(Date.now() * 1000 + 5000);
    expect(station.broker.counters()).toMatchObject({ journaled: 50, journalRecords: 50 });
    expect(station.broker.clients()).toMatchObject([{ principal: { role: 'node', nodeId: NODE } }]);
  });

  it('keeps what comes with QoS 0 and QoS 2 too, and what is sent again', async () => {
    station = await startStation();
    const client = await station.connect();
    await client.publishAsync(samplesTopic(), samplePacket(0), { qos: 0 });
    await client.publishAsync(samplesTopic(), samplePacket(1), { qos: 2 });
    await client.publishAsync(samplesTopic(), samplePacket(2), { qos: 1, dup: true });
    await client.publishAsync(samplesTopic(), samplePacket(2), { qos: 1 });
    expect((await station.records()).map(sequenceOf)).toEqual([0, 1, 2, 2]);
  });

  it('stores many nodes side by side, each in its own order', async () => {
    station = await startStation();
    const nodes = Array.from({ length: 12 }, (_, i) => (0x1000 + i).toString(16).padStart(16, '0'));
    await Promise.all(
      nodes.map(async (node) => {
        const client = await station.connect(node);
        await Promise.all(
          Array.from({ length: 40 }, (_, i) =>
            client.publishAsync(samplesTopic(node), samplePacket(i, node), { qos: 1 }),
          ),
        );
      }),
    );
    const records = await station.records();
    for (const node of nodes) {
      const own = records.filter((record) => record.topic === samplesTopic(node));
      expect(own.map(sequenceOf)).toEqual(Array.from({ length: 40 }, (_, i) => i));
    }
    expect(count('journalCommits')).toBeLessThan(480);
  });

  it('takes a packet of the greatest length the protocol allows', async () => {
    station = await startStation();
    const client = await station.connect();
    await client.publishAsync(samplesTopic(), samplePacket(3, NODE, 8192), { qos: 1 });
    const [record] = await station.records();
    expect(record!.payload).toEqual(samplePacket(3, NODE, 8192));
  });
});

describe('a message that is not what its topic promises', () => {
  const bent = samplePacket(1);
  bent[40]! ^= 1;
  const cases: [string, () => Buffer, string, RegExp][] = [
    ['empty', () => Buffer.alloc(0), 'refusedTooShort', /not kept/],
    ['other bytes', () => Buffer.alloc(500, 65), 'refusedBadMagic', /does not begin/],
    ['damaged', () => bent, 'refusedBadChecksum', /damaged on the way/],
    ['of another kind', () => offline, 'refusedBadKind', /kind/],
    ["under another node's name", () => samplePacket(1, OTHER_NODE), 'refusedWrongIdentity', /credentials/],
  ];
  for (const [what, payload, counter, message] of cases) {
    it(`${what}: acknowledged, counted, reported, not kept`, async () => {
      station = await startStation();
      const client = await station.connect();
      for (let i = 0; i < 3; i++) await client.publishAsync(samplesTopic(), payload(), { qos: 1 });
      await client.publishAsync(samplesTopic(), samplePacket(9), { qos: 1 });
      expect((await station.records()).map(sequenceOf)).toEqual([9]);
      expect(count(counter)).toBe(3);
      const told = station.log.lines.filter((line) => line.includes('not kept'));
      expect(told).toHaveLength(1);
      expect(told[0]).toMatch(message);
      expect(told[0]).toContain(NODE);
    });
  }

  it('does the same for status, event and time messages', async () => {
    station = await startStation();
    const client = await station.connect();
    for (const kind of ['status', 'event', 'time']) {
      await client.publishAsync(`clampline/${SITE}/node/${NODE}/${kind}`, samplePacket(1), {
        qos: 1,
        retain: true,
      });
    }
    expect(await station.records()).toEqual([]);
    expect(count('refusedBadKind')).toBe(3);
  });
});

describe('retained messages of nodes', () => {
  it('are taken for status only; elsewhere the mark is taken off and the message kept', async () => {
    station = await startStation();
    const client = await station.connect();
    await client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1, retain: true });
    await client.publishAsync(statusTopic(), offline, { qos: 1, retain: true });
    expect(count('retainTakenOff')).toBe(1);
    expect((await station.records()).map((record) => record.topic)).toEqual([samplesTopic(), statusTopic()]);
  });
});

describe('a last will', () => {
  const will = { topic: statusTopic(), payload: offline, qos: 1 as const, retain: true };

  it('is journaled when the node is lost', async () => {
    station = await startStation();
    const client = await station.connect(NODE, { will });
    await client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    client.stream.destroy();
    await vi.waitFor(async () => expect(await station.records()).toHaveLength(2));
    const [, record] = await station.records();
    expect(record).toMatchObject({ topic: statusTopic(), payload: offline });
    expect(record!.arrivedAtUs).toBeGreaterThan(1.7e15);
  });

  it('is not journaled when the node says goodbye, nor when the station is stopped', async () => {
    station = await startStation();
    const client = await station.connect(NODE, { will });
    await client.endAsync();
    await station.connect(NODE, { will });
    await station.broker.close();
    expect(await station.records()).toEqual([]);
  });

  it('for a topic that is not its own goes nowhere', async () => {
    station = await startStation();
    const client = await station.connect(NODE, { will: { ...will, topic: statusTopic(OTHER_NODE) } });
    client.stream.destroy();
    await vi.waitFor(() => expect(count('publishesDenied')).toBe(1));
    expect(await station.records()).toEqual([]);
    expect(station.log.lines.join('\n')).toMatch(/may not publish/);
  });
});
