import { afterEach, describe, expect, it, vi } from 'vitest';
import { encodeStatus, offlineStatus } from '../../firmware-protocol/index.ts';
import { NODE, OTHER_NODE, type Station, startStation, statusTopic } from './station.ts';

let station: Station;
afterEach(() => station.close());

describe('a node whose credentials no longer hold', () => {
  it('is cut off at once with its last will, and no other', async () => {
    station = await startStation();
    const will = Buffer.from(encodeStatus(offlineStatus({ nodeId: NODE, bootId: 7 })));
    const node = await station.connect(NODE, {
      will: { topic: statusTopic(), payload: will, qos: 1, retain: true },
    });
    const other = await station.connect(OTHER_NODE);
    const closed = new Promise<void>((resolve) => node.once('close', () => resolve()));
    expect(station.broker.disconnect(NODE)).toBe(1);
    await closed;
    expect(other.connected).toBe(true);
    await vi.waitFor(async () =>
      expect((await station.records()).map(({ topic }) => topic)).toEqual([statusTopic()]),
    );
    expect(station.broker.counters()).toMatchObject({ nodesDisconnected: 1 });
    expect(station.broker.disconnect(NODE)).toBe(0);
  });
});

describe('who is not let in', () => {
  it('is kept in mind by node and address, newest first; other names are not', async () => {
    station = await startStation();
    const refused = (name: string) => expect(station.connect(name, { password: 'wrong' })).rejects.toThrow();
    await refused(NODE);
    await refused('somebody@example.org');
    await refused(NODE);
    const [newest, before] = station.broker.refusedLogins();
    expect(newest).toMatchObject({ nodeId: NODE, address: '127.0.0.1', attempts: 2 });
    expect(before).toMatchObject({ nodeId: null, attempts: 1 });
    expect(JSON.stringify(station.broker.refusedLogins())).not.toContain('somebody');
  });
});
