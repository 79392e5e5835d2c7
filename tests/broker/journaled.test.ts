import { afterEach, expect, it, vi } from 'vitest';
import { decodeJournaled, type Journaled, toNodeTopic } from '../../firmware-protocol/index.ts';
import { failingDisk } from './journal/failing-disk.ts';
import { NODE, SITE, type Station, samplePacket, samplesTopic, startStation } from './station.ts';

let station: Station;
afterEach(() => station.close());

it('a node hears which of its packets are on the disk, and not before they are', async () => {
  const disk = failingDisk();
  station = await startStation({ journal: { disk, retryMs: 10 } });
  const client = await station.connect();
  const heard: Journaled[] = [];
  client.on('message', (_topic, payload) => {
    const decoded = decodeJournaled(payload);
    if (decoded.ok) heard.push(decoded.message);
  });
  await client.subscribeAsync(toNodeTopic(SITE, NODE, '+'), { qos: 1 });
  await client.publishAsync(samplesTopic(), samplePacket(0), { qos: 1 });
  await client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
  const run = { nodeId: NODE, bootId: 7, fromSequence: 0 };
  await vi.waitFor(() => expect(heard.at(-1)).toMatchObject({ ...run, uptoSequence: 2, uptoSample: 32n }), {
    timeout: 10_000,
  });

  disk.fail('sync', 'ENOSPC');
  const published = client.publishAsync(samplesTopic(), samplePacket(2), { qos: 1 });
  await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(10), { timeout: 20_000 });
  expect(heard.at(-1)!.uptoSequence).toBe(2);
  disk.heal();
  await published;
  await vi.waitFor(() => expect(heard.at(-1)!.uptoSequence).toBe(3), { timeout: 10_000 });
});
