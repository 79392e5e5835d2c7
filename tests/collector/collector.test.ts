import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, describe, expect, it } from 'vitest';
import { createCollector, openReadingReader } from '../../collector/index.ts';
import type { LiveBlock, Reading } from '../../collector/model.ts';
import type { CollectorState } from '../../collector/publish/collector-state.ts';
import { openSqliteStore } from '../../collector/store/sqlite-store.ts';
import {
  collectorTopic,
  encodeEvent,
  encodeStatus,
  healthTopic,
  liveTopic,
  nodeTopic,
  offlineStatus,
  readingTopic,
  tapTopic,
  watchTopic,
} from '../../firmware-protocol/index.ts';
import { memoryLog, SITE, type Station, startStation, TOKEN } from '../broker/station.ts';
import { amplitudeOf, simulatedNode } from '../support/simulated-node.ts';

const cleanups: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const cleanup of cleanups.splice(0).reverse()) await cleanup();
});

async function until<T>(look: () => T | undefined | Promise<T | undefined>): Promise<T> {
  for (;;) {
    const found = await look();
    if (found !== undefined) return found;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

async function dataFolder(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'clampline-collector-'));
  cleanups.push(() => rm(folder, { recursive: true, force: true }));
  return folder;
}

async function station(): Promise<Station> {
  const running = await startStation();
  cleanups.push(() => running.close());
  return running;
}

async function collectorFor(running: Station, readingsFile: string, port = running.broker.port) {
  const log = memoryLog();
  const mqtt = { url: `mqtt://127.0.0.1:${port}`, username: 'collector', password: TOKEN };
  const config = { site: SITE, journalDir: running.journalDir, readingsFile, mqtt };
  const collector = await createCollector(config, { log });
  cleanups.push(() => collector.close());
  return { collector, log };
}

/** Messages on a topic filter as they come. */
async function listen(running: Station, filter: string) {
  const client = await running.connect('dashboard');
  const messages: { topic: string; value: unknown; retain: boolean }[] = [];
  client.on('message', (topic, payload, packet) => {
    messages.push({ topic, value: JSON.parse(payload.toString()), retain: packet.retain });
  });
  await client.subscribeAsync(filter);
  return { client, messages };
}

describe('collector', () => {
  it('takes a packet published over MQTT to a stored and published reading', async () => {
    const running = await station();
    const file = join(await dataFolder(), 'readings.sqlite');
    const reader = openReadingReader(file);
    cleanups.push(() => reader.close());
    expect(await reader.latest()).toEqual([]);

    const { messages } = await listen(running, readingTopic(SITE, '+', '+'));
    const { collector } = await collectorFor(running, file);
    const node = simulatedNode({ startS: Math.floor(Date.now() / 1000) - 60.5, replay: true });
    const board = await running.connect(node.nodeId);
    for (let i = 0; i < node.packetsIn(8); i++) {
      const { topic, payload } = node.packet(i);
      await board.publishAsync(topic, Buffer.from(payload), { qos: 1 });
    }
    const newest = await until(async () => (await reader.latest()).find((r) => r.flags.length === 0));
    const k = newest.startMs / 1000;
    expect(newest).toMatchObject({
      nodeId: node.nodeId,
      sensor: 0,
      bandHz: [10, 1000],
      timeUncertaintyMs: expect.any(Number),
    });
    expect(newest.axes[0]!.accelerationRmsMPerS2).toBeCloseTo(amplitudeOf(k) / Math.SQRT2, 2);
    const published = await until(() => messages.at(-1));
    expect(published.topic).toBe(readingTopic(SITE, node.nodeId, 0));
    expect((published.value as Reading).nodeId).toBe(node.nodeId);
    expect(collector.state()).toMatchObject({ phase: 'live', error: null, mqttConnected: true });
  });

  it('publishes how a node does, retained, and a tap as it happens', async () => {
    const running = await station();
    const { messages } = await listen(running, healthTopic(SITE, '+'));
    const taps = (await listen(running, tapTopic(SITE, '+'))).messages;
    const { collector } = await collectorFor(running, join(await dataFolder(), 'readings.sqlite'));
    const node = simulatedNode({ startS: Math.floor(Date.now() / 1000) - 5 });
    const board = await running.connect(node.nodeId);
    const send = (kind: 'status' | 'event', bytes: Uint8Array) =>
      board.publishAsync(nodeTopic({ site: SITE, nodeId: node.nodeId, kind }), Buffer.from(bytes), {
        qos: 1,
      });
    const header = { nodeId: node.nodeId, bootId: 7 };
    await send('status', encodeStatus({ ...offlineStatus(header), state: 'sampling', batteryPercent: 64 }));
    await until(() => (collector.state().phase === 'live' ? true : undefined));
    const tap = { eventCount: 0, nodeClockUs: 1n, timeSource: 0, sample: null, event: 'tap' } as const;
    await send(
      'event',
      encodeEvent({ ...header, ...tap, sensor: 1, commandId: 0, result: 0, value: 20_000 }),
    );
    expect((await until(() => taps.at(-1))).value).toMatchObject({
      sensor: 1,
      peakMPerS2: 20,
      source: 'node',
    });
    const health = await until(() => messages.at(-1));
    expect(health).toMatchObject({ topic: healthTopic(SITE, node.nodeId) });
    expect(health.value).toMatchObject({ nodeId: node.nodeId, status: { batteryPercent: 64 } });
    // Who subscribes later gets it at once, as a page that is opened later must.
    const later = (await listen(running, healthTopic(SITE, '+'))).messages;
    expect((await until(() => later.at(-1))).retain).toBe(true);
  });

  it('publishes waveform and spectrum only of a watched sensor', async () => {
    const running = await station();
    const { messages, client } = await listen(running, liveTopic(SITE, '+', '+'));
    await collectorFor(running, join(await dataFolder(), 'readings.sqlite'));
    const node = simulatedNode({
      startS: Math.floor(Date.now() / 1000) - 30,
      replay: true,
      channels: [0, 1].flatMap((sensor) => (['x', 'y'] as const).map((axis) => ({ sensor, axis }))),
    });
    const board = await running.connect(node.nodeId);
    let index = 0;
    const live = await until(async () => {
      // As long as nobody's watch has reached the collector, it is asked again, as the dashboard does.
      await client.publishAsync(watchTopic(SITE, node.nodeId, 1), '');
      const { topic, payload } = node.packet(index++);
      await board.publishAsync(topic, Buffer.from(payload), { qos: 1 });
      return messages.at(-1);
    });
    const block = live.value as LiveBlock;
    expect(messages.every((m) => m.topic === liveTopic(SITE, node.nodeId, 1) && !m.retain)).toBe(true);
    expect(block.axes.map((a) => a.axis)).toEqual(['x', 'y']);
    const amplitude = amplitudeOf(block.startMs / 1000);
    expect(Math.max(...block.axes[0]!.waveformMPerS2)).toBeCloseTo(amplitude, 1);
    const peak = block.axes[0]!.spectrumMPerS2.indexOf(Math.max(...block.axes[0]!.spectrumMPerS2));
    expect(Math.abs(peak * block.spectrumStepHz - 80)).toBeLessThanOrEqual(block.spectrumStepHz);
    expect(block.axes[0]!.waveformMPerS2.length).toBeLessThanOrEqual(1024);
  });

  it('goes on storing while the broker is away, and then publishes the newest', async () => {
    const first = await station();
    const file = join(await dataFolder(), 'readings.sqlite');
    const { collector } = await collectorFor(first, file);
    await until(() => (collector.state().mqttConnected ? true : undefined));
    const { port } = first.broker;
    await first.broker.close();
    await until(() => (collector.state().mqttConnected ? undefined : true));

    const node = simulatedNode({ startS: Math.floor(Date.now() / 1000) - 60, replay: true });
    for (let i = 0; i < node.packetsIn(6); i++) {
      const { topic, payload, arrivedAtUs } = node.packet(i);
      await first.journal.append(topic, payload, arrivedAtUs);
    }
    const storedMs = await until(() => collector.state().lastReadingMs ?? undefined);
    expect(storedMs).toBeGreaterThan(0);

    const again = await startStation({ broker: { port } });
    cleanups.push(() => again.close());
    const { messages } = await listen(again, readingTopic(SITE, '+', '+'));
    const newest = await until(() =>
      messages.find((m) => (m.value as Reading).startMs === collector.state().lastReadingMs),
    );
    expect(newest.topic).toBe(readingTopic(SITE, node.nodeId, 0));
  });

  it('says how it is, retained', async () => {
    const running = await station();
    await collectorFor(running, join(await dataFolder(), 'readings.sqlite'));
    const { messages } = await listen(running, collectorTopic(SITE));
    const state = (await until(() => messages.at(-1))).value as CollectorState;
    expect(state).toMatchObject({ lagBytes: 0, error: null });
  });

  it('waits for a journal that is not there yet and says so', async () => {
    const folder = await dataFolder();
    const log = memoryLog();
    const collector = await createCollector(
      {
        site: SITE,
        journalDir: join(folder, 'journal'),
        readingsFile: join(folder, 'readings.sqlite'),
        mqtt: null,
      },
      { log },
    );
    await until(() => (collector.state().phase === 'waiting' ? true : undefined));
    expect(collector.state().error?.remedy).toMatch(/folder/);
    await collector.close();
    expect(await collector.stopped).toBeNull();
  });

  it('refuses settings that make no sense', async () => {
    const good = { site: SITE, journalDir: '/j', readingsFile: '/r', mqtt: null };
    const refused = (config: object) =>
      expect(createCollector({ ...good, ...config }, { log: memoryLog() })).rejects.toMatchObject({
        code: 'COLLECTOR_BAD_SETTING',
      });
    await refused({ site: 'Not A Site' });
    await refused({ journalDir: 'relative' });
    await refused({ band: '5-500' });
    await refused({ maxNodes: 0 });
    await refused({ retention: { secondsDays: -1 } });
    await refused({ mqtt: { url: 'http://x', username: 'a', password: 'b' } });
  });

  it('waits for a locked file and then goes on without a loss', async () => {
    const running = await station();
    const file = join(await dataFolder(), 'readings.sqlite');
    const store = await openSqliteStore(file, { busyMs: 10, retention: { secondsDays: null } });
    const config = { site: SITE, journalDir: running.journalDir, readingsFile: file, mqtt: null };
    const collector = await createCollector(config, { log: memoryLog(), store });
    cleanups.push(() => collector.close());
    await until(() => (collector.state().phase === 'live' ? true : undefined));
    const lock = new Database(file);
    lock.exec('BEGIN IMMEDIATE');
    const node = simulatedNode({ replay: true });
    for (let i = 0; i < node.packetsIn(12); i++) {
      const { topic, payload, arrivedAtUs } = node.packet(i);
      await running.journal.append(topic, payload, arrivedAtUs);
    }
    await until(() => (collector.state().error?.code === 'READINGS_LOCKED' ? true : undefined));
    expect(collector.state().phase).toBe('waiting');
    lock.exec('ROLLBACK');
    lock.close();
    const found = await until(async () => {
      const readings = await store.readings({ nodeId: node.nodeId, sensor: 0 }, 0, 1e15);
      return readings.length >= 12 ? readings : undefined;
    });
    expect(found.length).toBe(12);
    expect(collector.state()).toMatchObject({ phase: 'live', error: null });
  });

  it('says how far it has come while it catches up', async () => {
    const running = await station();
    const node = simulatedNode({ startS: Date.now() / 1000 - 7200, replay: true, framesPerPacket: 6400 });
    for (let i = 0; i < node.packetsIn(600); i++) {
      const { topic, payload, arrivedAtUs } = node.packet(i);
      await running.journal.append(topic, payload, arrivedAtUs);
    }
    const { collector } = await collectorFor(running, join(await dataFolder(), 'readings.sqlite'));
    const shares = new Set<number>();
    while (shares.size === 0 || collector.state().phase !== 'live') {
      const { caughtUpShare } = collector.state();
      if (caughtUpShare !== null) shares.add(caughtUpShare);
      await new Promise((resolve) => setImmediate(resolve));
    }
    expect(Math.max(...shares)).toBeLessThan(1);
    expect(collector.state().counters['packets']).toBe(node.packetsIn(600));
  });

  it.each(['nodes were known', 'nothing was known'])(
    'begins anew with another journal (%s)',
    async (kind) => {
      const file = join(await dataFolder(), 'readings.sqlite');
      const [first, second] = [await station(), await station()];
      const send = async (to: Station, node: ReturnType<typeof simulatedNode>) => {
        for (let i = 0; i < node.packetsIn(6); i++) {
          const { topic, payload, arrivedAtUs } = node.packet(i);
          await to.journal.append(topic, payload, arrivedAtUs);
        }
      };
      const startS = Date.now() / 1000 - 200;
      if (kind === 'nodes were known') await send(first, simulatedNode({ startS, replay: true }));
      const topic = `clampline/${SITE}/node/00000000000000aa/event`;
      await first.journal.append(topic, Buffer.alloc(1 << 20), (startS + 50) * 1e6);
      const before = await collectorFor(first, file);
      await until(() => (before.collector.state().journalPosition > 1e6 ? true : undefined));
      await before.collector.close();

      const node = simulatedNode({ nodeId: '00000000000000bb', startS: startS + 100, replay: true });
      const { collector, log } = await collectorFor(second, file);
      await send(second, node);
      await until(() => {
        const { lastReadingMs } = collector.state();
        return lastReadingMs !== null && lastReadingMs > (startS + 100) * 1000 ? true : undefined;
      });
      expect(log.lines.filter((line) => /another one than before/.test(line))).toHaveLength(1);
    },
  );

  it('stops when a second collector takes the file over', async () => {
    const running = await station();
    const file = join(await dataFolder(), 'readings.sqlite');
    const { collector } = await collectorFor(running, file);
    await until(() => (collector.state().phase === 'live' ? true : undefined));
    await collectorFor(running, file);
    const node = simulatedNode({ replay: true });
    for (let i = 0; i < node.packetsIn(5); i++) {
      const { topic, payload, arrivedAtUs } = node.packet(i);
      await running.journal.append(topic, payload, arrivedAtUs);
    }
    expect(await collector.stopped).toMatchObject({ code: 'READINGS_TAKEN_OVER' });
    expect(collector.state().phase).toBe('stopped');
  });
});
