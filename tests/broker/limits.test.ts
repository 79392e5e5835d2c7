import { connect, type Socket } from 'node:net';
import { connect as connectTls } from 'node:tls';
import fc from 'fast-check';
import mqtt from 'mqtt';
import mqttPacket from 'mqtt-packet';
import { generate } from 'selfsigned';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { FailedLogins } from '../../broker/failed-logins.ts';
import { FrameLengths } from '../../broker/frame-lengths.ts';
import { createBroker } from '../../broker/index.ts';
import {
  clientOptions,
  credentials,
  memoryLog,
  NODE,
  SITE,
  type Station,
  samplePacket,
  samplesTopic,
  startStation,
  TOKEN,
} from './station.ts';

let station: Station;
const sockets: Socket[] = [];
afterEach(async () => {
  for (const socket of sockets.splice(0)) socket.destroy();
  await station?.close();
});

const count = (name: string) => station.broker.counters()[name] ?? 0;

function rawSocket(): Socket {
  const socket = connect(station.broker.port, '127.0.0.1');
  socket.on('error', () => {});
  sockets.push(socket);
  return socket;
}

const closed = (socket: Socket) => new Promise<void>((resolve) => socket.once('close', () => resolve()));

const connectPacket = (username = NODE) =>
  mqttPacket.generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clean: true,
    clientId: 'raw',
    keepalive: 0,
    username,
    password: Buffer.from(TOKEN),
  });

describe('a packet that is too long', () => {
  it('costs the connection before it is collected; others go on', async () => {
    station = await startStation({ broker: { maxPacketBytes: 5000 } });
    const other = await station.connect('collector');
    const client = await station.connect();
    await client.publishAsync(samplesTopic(), samplePacket(1, NODE, 262), { qos: 1 });
    const gone = new Promise<void>((resolve) => client.once('close', () => resolve()));
    client.publish(samplesTopic(), Buffer.alloc(5001), { qos: 1 });
    await gone;
    expect(count('connectionsCut')).toBe(1);
    expect(station.log.lines.join('\n')).toMatch(/a packet of \d+ bytes, at most 5000 are taken/);
    expect(await station.records()).toHaveLength(1);
    await other.publishAsync(`clampline/${SITE}/collector`, 'still here', { qos: 1 });
  });

  it('is recognised by the first bytes of its header alone', async () => {
    station = await startStation();
    const socket = rawSocket();
    socket.write(connectPacket());
    await new Promise((resolve) => socket.once('data', resolve));
    const gone = closed(socket);
    socket.write(Buffer.from([0x32, 0xff, 0xff, 0xff, 0x7f]));
    await gone;
    expect(count('connectionsCut')).toBe(1);
  });

  it('a CONNECT may be 8 KiB long: nobody has logged in yet', async () => {
    station = await startStation();
    const socket = rawSocket();
    const gone = closed(socket);
    socket.write(Buffer.from([0x10, 0x81, 0x40]));
    await gone;
    expect(count('connectionsCut')).toBe(1);
  });
});

describe('bytes that are no MQTT', () => {
  it('any of them cost that connection at most; a node beside it goes on', async () => {
    station = await startStation({ broker: { connectTimeoutMs: 200 } });
    const node = await station.connect();
    await fc.assert(
      fc.asyncProperty(
        fc.boolean(),
        fc.uint8Array({ minLength: 1, maxLength: 300 }),
        async (loggedIn, bytes) => {
          const socket = rawSocket();
          const gone = closed(socket);
          if (loggedIn) socket.write(connectPacket('00000000000000aa'));
          socket.write(bytes);
          socket.end();
          socket.resume();
          await gone;
        },
      ),
      { numRuns: 150 },
    );
    await node.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    expect(await station.records()).toHaveLength(1);
    await vi.waitFor(() => expect(count('connectionsOpen')).toBe(1));
  });

  it('a web browser at the wrong port is cut off at once', async () => {
    station = await startStation();
    const socket = rawSocket();
    const gone = closed(socket);
    socket.write('GET / HTTP/1.1\r\n\r\n');
    await gone;
    expect(count('connectionsCut')).toBe(1);
  });
});

describe('another version of MQTT', () => {
  it('is refused with an answer, not with silence', async () => {
    station = await startStation();
    await expect(station.connect(NODE, { protocolVersion: 5 })).rejects.toThrow(/protocol|version/i);
    await (await station.connect()).publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
  });
});

describe('connections', () => {
  it('that send nothing are closed after a time', async () => {
    station = await startStation({ broker: { connectTimeoutMs: 50 } });
    await closed(rawSocket().resume());
    expect(count('connectTimeouts')).toBe(1);
  });

  it('are limited for each address, and in all; a place becomes free again', async () => {
    station = await startStation({ broker: { maxConnectionsPerAddress: 3 } });
    const open = [
      await station.connect('collector'),
      await station.connect('dashboard'),
      await station.connect(),
    ];
    await closed(rawSocket().resume());
    expect(count('connectionsRefused')).toBe(1);
    await open[0]!.endAsync();
    await vi.waitFor(() => expect(count('connectionsOpen')).toBe(2));
    await station.connect('collector');
  });

  it('that never logged in do not keep the broker from closing', async () => {
    station = await startStation();
    const socket = rawSocket();
    await new Promise((resolve) => socket.once('connect', resolve));
    await vi.waitFor(() => expect(count('connectionsOpen')).toBe(1));
    await station.broker.close();
  });
});

describe('failed logins', () => {
  it('are answered later and later, up to a bound, for each address', () => {
    const failures = new FailedLogins();
    const delays = Array.from({ length: 14 }, () => failures.failed('10.0.0.9', 0));
    expect(delays).toEqual([
      0, 0, 0, 250, 500, 1000, 2000, 4000, 8000, 10_000, 10_000, 10_000, 10_000, 10_000,
    ]);
    expect(failures.failed('10.0.0.8', 0)).toBe(0);
    expect(failures.failed('10.0.0.9', 600_001)).toBe(0);
  });

  it('a flood of addresses takes no more memory than a thousand of them', () => {
    const failures = new FailedLogins();
    for (let round = 0; round < 5; round++) failures.failed('first', 0);
    for (let i = 0; i < 1000; i++) failures.failed(`10.0.${i >> 8}.${i & 255}`, 0);
    expect(failures.failed('first', 0)).toBe(0);
  });

  it('do not slow a right login from the same address', async () => {
    station = await startStation();
    const failing = Array.from({ length: 12 }, () =>
      station.connect(NODE, { password: 'wrong', connectTimeout: 60_000 }).catch(() => {}),
    );
    await vi.waitFor(() => expect(count('loginsFailed')).toBe(12));
    await (await station.connect()).publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    expect(count('journaled')).toBe(1);
    void failing;
  });
});

describe('a subscriber that takes nothing', () => {
  it('is disconnected after a time; the others get all of it', async () => {
    station = await startStation({ broker: { drainTimeoutMs: 300 } });
    const frozen = rawSocket();
    frozen.write(connectPacket('dashboard'));
    await new Promise((resolve) => frozen.once('data', resolve));
    frozen.write(
      mqttPacket.generate({
        cmd: 'subscribe',
        messageId: 1,
        subscriptions: [{ topic: `clampline/${SITE}/live/+/+`, qos: 0 }],
      }),
    );
    await new Promise((resolve) => frozen.once('data', resolve));
    frozen.pause();

    const fast = await station.connect('dashboard');
    await fast.subscribeAsync(`clampline/${SITE}/live/+/+`, { qos: 0 });
    let received = 0;
    fast.on('message', () => received++);
    const collector = await station.connect('collector');
    const block = Buffer.alloc(100_000, 7);
    for (let i = 0; i < 200; i++) {
      await collector.publishAsync(`clampline/${SITE}/live/${NODE}/0`, block, { qos: 1 });
    }
    await vi.waitFor(() => expect(received).toBe(200), { timeout: 15_000 });
    await vi.waitFor(() => expect(count('slowSubscribersCut')).toBe(1), { timeout: 5000 });
    expect(station.log.lines.join('\n')).toMatch(/service dashboard did not take its messages/);
  });
});

describe('port and address', () => {
  it('a taken port, and one that is not there, are errors with a code and a remedy', async () => {
    station = await startStation();
    const deps = { credentials, journal: station.journal, log: memoryLog() };
    await expect(createBroker({ site: SITE, port: station.broker.port }, deps)).rejects.toMatchObject({
      code: 'BROKER_PORT_TAKEN',
      remedy: expect.stringContaining('--mqtt-port'),
    });
    // 192.0.2.0/24 is kept for documentation (RFC 5737): no computer has it.
    await expect(createBroker({ site: SITE, port: 0, host: '192.0.2.1' }, deps)).rejects.toMatchObject({
      code: 'BROKER_ADDRESS_UNAVAILABLE',
    });
    for (const bad of [
      { site: 'No Site' },
      { site: SITE, port: 70_000 },
      { site: SITE, maxConnections: 0 },
    ]) {
      await expect(createBroker(bad, deps)).rejects.toMatchObject({ code: 'BROKER_BAD_SETTING' });
    }
  });
});

describe('with TLS', () => {
  it('speaks MQTT over it, with the same limits, and nothing else', async () => {
    const { cert, private: key } = await generate([{ name: 'commonName', value: 'localhost' }], {
      algorithm: 'sha256',
    });
    station = await startStation({
      broker: { tls: { cert, key }, maxPacketBytes: 5000, connectTimeoutMs: 300 },
    });
    const client = await mqtt.connectAsync(`mqtts://localhost:${station.broker.port}`, {
      ...clientOptions(NODE),
      ca: cert,
      host: '127.0.0.1',
      servername: 'localhost',
    });
    client.on('error', () => {});
    await client.publishAsync(samplesTopic(), samplePacket(1), { qos: 1 });
    expect(await station.records()).toHaveLength(1);
    const gone = new Promise<void>((resolve) => client.once('close', () => resolve()));
    client.publish(samplesTopic(), Buffer.alloc(6000), { qos: 1 });
    await gone;
    expect(count('connectionsCut')).toBe(1);
    client.end(true);

    const plain = rawSocket();
    const refused = closed(plain.resume());
    plain.write(connectPacket());
    await refused;
    expect(count('tlsHandshakesFailed')).toBe(1);
    const idle = connectTls({ port: station.broker.port, host: '127.0.0.1', rejectUnauthorized: false });
    idle.on('error', () => {});
    await closed(idle.resume());
    await vi.waitFor(() => expect(count('connectionsOpen')).toBe(0));
  });

  it('a certificate that is none is an error with a code', async () => {
    station = await startStation();
    const deps = { credentials, journal: station.journal, log: memoryLog() };
    await expect(
      createBroker({ site: SITE, port: 0, tls: { cert: 'none', key: 'none' } }, deps),
    ).rejects.toMatchObject({ code: 'BROKER_TLS_INVALID' });
  });
});

describe('following the framing of MQTT', () => {
  const limits = { maxConnectBytes: 200, maxPacketBytes: 2000 };

  it('counts each PUBLISH once, wherever the stream is cut', () => {
    const publish = (length: number) =>
      mqttPacket.generate({
        cmd: 'publish',
        topic: 'a/b',
        payload: Buffer.alloc(length, 0x30),
        qos: 0,
        dup: false,
        retain: false,
      });
    fc.assert(
      fc.property(
        fc.array(fc.nat(1500), { maxLength: 8 }),
        fc.array(fc.integer({ min: 1, max: 700 })),
        (lengths, cuts) => {
          const ping = mqttPacket.generate({ cmd: 'pingreq' });
          const stream = Buffer.concat([
            connectPacket(),
            ...lengths.flatMap((length) => [publish(length), ping]),
          ]);
          let seen = 0;
          const frames = new FrameLengths(limits, { publish: () => seen++ });
          let at = 0;
          for (const cut of cuts) {
            expect(frames.feed(stream.subarray(at, at + cut))).toBeNull();
            at += cut;
          }
          expect(frames.feed(stream.subarray(at))).toBeNull();
          expect(seen).toBe(lengths.length);
        },
      ),
    );
  });

  it('any bytes end in "go on" or a reason', () => {
    fc.assert(
      fc.property(fc.array(fc.uint8Array({ maxLength: 50 }), { maxLength: 20 }), (chunks) => {
        const frames = new FrameLengths(limits, { publish: () => {} });
        for (const chunk of chunks) {
          const answer = frames.feed(chunk);
          if (answer !== null) {
            expect(answer.length).toBeGreaterThan(10);
            return;
          }
        }
      }),
    );
  });
});
