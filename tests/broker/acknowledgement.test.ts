import { once } from 'node:events';
import { connect, type Socket } from 'node:net';
import mqttPacket from 'mqtt-packet';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { type Disk, realDisk } from '../../broker/journal/disk.ts';
import { failingDisk } from './journal/failing-disk.ts';
import {
  NODE,
  type Station,
  samplePacket,
  samplesTopic,
  sequenceOf,
  startStation,
  TOKEN,
} from './station.ts';

let station: Station;
afterEach(() => station.close());

/** A disk whose syncs wait until they are let through. */
function gatedDisk(): { disk: Disk; waiting: () => number; letThrough(): void } {
  const gates: (() => void)[] = [];
  let open = true;
  const disk: Disk = {
    ...realDisk,
    async open(path, flags) {
      const file = await realDisk.open(path, flags);
      return {
        ...file,
        async sync() {
          if (!open) await new Promise<void>((resolve) => gates.push(resolve));
          await file.sync();
        },
      };
    },
  };
  return {
    disk,
    waiting: () => {
      open = false;
      return gates.length;
    },
    letThrough() {
      open = true;
      for (const gate of gates.splice(0)) gate();
    },
  };
}

describe('back-pressure', () => {
  for (const qos of [0, 1] as const) {
    it(`QoS ${qos}: while the disk takes nothing, a node that goes on sending is not read on; nothing is lost`, async () => {
      const disk = failingDisk();
      station = await startStation({ journal: { disk, retryMs: 5 } });
      const socket = await rawLogin(station.broker.port);
      disk.fail('write', 'ENOSPC');
      const messages = 3000;
      for (let i = 0; i < messages; i++) {
        socket.write(
          mqttPacket.generate({
            cmd: 'publish',
            topic: samplesTopic(),
            payload: samplePacket(i, undefined, 262),
            qos,
            messageId: i + 1,
            dup: false,
            retain: false,
          }),
        );
        // One by one, so that each comes in a piece of its own.
        if (i < 600) await new Promise((resolve) => setTimeout(resolve, 1));
      }
      await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(3));
      const { journalPendingBytes, journalHeldBack, messages: seen } = station.broker.counters();
      // 32 KiB in hand, and what was read before that was noticed.
      expect(seen).toBeLessThan(150);
      expect(journalPendingBytes! + 2000 * journalHeldBack!).toBeLessThan(300_000);
      expect(socket.writableLength).toBeGreaterThan(0);

      disk.heal();
      await vi.waitFor(() => expect(station.broker.counters()['journaled']).toBe(messages), {
        timeout: 20_000,
      });
      expect((await station.records()).map(sequenceOf)).toEqual(
        Array.from({ length: messages }, (_, i) => i),
      );
      socket.destroy();
    });
  }
});

async function rawLogin(port: number): Promise<Socket> {
  const socket = connect({ port, host: '127.0.0.1', noDelay: true });
  socket.write(
    mqttPacket.generate({
      cmd: 'connect',
      protocolId: 'MQTT',
      protocolVersion: 4,
      clean: true,
      clientId: 'raw',
      keepalive: 0,
      username: NODE,
      password: Buffer.from(TOKEN),
    }),
  );
  await once(socket, 'data');
  socket.resume();
  return socket;
}

describe('the acknowledgement', () => {
  it('comes after the sync, not after the write', async () => {
    const gate = gatedDisk();
    station = await startStation({ journal: { disk: gate.disk } });
    const client = await station.connect();
    await client.publishAsync(samplesTopic(), samplePacket(0), { qos: 1 });
    expect(gate.waiting()).toBe(0);

    let acknowledged = false;
    const published = client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 }).then(() => {
      acknowledged = true;
    });
    await vi.waitFor(() => expect(gate.waiting()).toBe(1));
    // Written already, as a reader sees, but not durable.
    expect((await station.records()).map(sequenceOf)).toEqual([0, 1]);
    await new Promise((resolve) => setTimeout(resolve, 50));
    expect(acknowledged).toBe(false);
    gate.letThrough();
    await published;
  });

  it('never comes for what the station could not store before it stopped', async () => {
    const disk = failingDisk();
    station = await startStation({ journal: { disk, retryMs: 60_000 } });
    const client = await station.connect();
    disk.fail('sync', 'EIO');
    const published = client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 }).then(
      () => 'acknowledged',
      () => 'not acknowledged',
    );
    await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(0));
    await station.broker.close();
    await station.journal.close();
    client.end(true);
    expect(
      await Promise.race([published, new Promise((resolve) => setTimeout(resolve, 50, 'none'))]),
    ).not.toBe('acknowledged');
  });
});
