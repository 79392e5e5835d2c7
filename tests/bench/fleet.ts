/** The page of a large fleet, and starting again after a crash with a long journal behind. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { appendFileSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { openJournalWriter } from '../../broker/index.ts';
import { openReadingReader, zoneOf } from '../../collector/index.ts';
import type { Reading } from '../../collector/model.ts';
import { openSqliteStore } from '../../collector/store/sqlite-store.ts';
import { buildApp, openRecordStore } from '../../dashboard/server/index.ts';
import { memoryLog, NODE, SITE, samplePacket, samplesTopic } from '../broker/station.ts';
import { cli } from '../support/station.ts';
import type { Figure } from './run.ts';

const ASSETS = 200;
const LOCATIONS_EACH = 4;
const JOURNAL_BYTES = 2e9;

export async function bench(): Promise<Figure[]> {
  const folder = await mkdtemp(join(tmpdir(), 'clampline-bench-fleet-'));
  try {
    return [...(await fleetPage(folder)), ...(await afterCrash(folder))];
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

function reading(nodeId: string, sensor: number, startMs: number): Reading {
  const level = 1 + (sensor % 4);
  return {
    nodeId,
    sensor,
    startMs,
    durationS: 1,
    sampleRateHz: 3188.5,
    bandHz: [10, 1000],
    axes: (['x', 'y', 'z'] as const).map((axis, i) => ({
      axis,
      velocityRmsMmPerS: level / (i + 1),
      accelerationRmsMPerS2: level,
      accelerationPeakMPerS2: 4 * level,
      crestFactor: 4,
      kurtosis: 3,
    })),
    flags: [],
  };
}

/** All assets with all their locations, sensors and newest readings, as the page asks for them. */
async function fleetPage(folder: string): Promise<Figure[]> {
  const records = openRecordStore(join(folder, 'fleet-records.sqlite'));
  const file = join(folder, 'fleet-readings.sqlite');
  const store = await openSqliteStore(file);
  const nowMs = Math.floor(Date.now() / 1000) * 1000;
  const newest: Reading[] = [];
  for (let asset = 0; asset < ASSETS; asset++) {
    const nodeId = (0xf000 + asset).toString(16).padStart(16, '0');
    records.nodes.add(nodeId, `Board ${asset}`);
    const { id } = records.assets.add({ name: `Bus ${asset}`, kind: 'vehicle', machineClass: 'II' });
    for (let sensor = 0; sensor < LOCATIONS_EACH; sensor++) {
      const location = records.assets.addLocation(id, { name: `Place ${sensor}`, component: 'Axle' });
      records.mounts.put(location.id, { nodeId, sensor }, nowMs - 60_000);
      newest.push(reading(nodeId, sensor, nowMs));
    }
  }
  await store.commit(newest, 1);
  const person = await records.people.create('Bench', 'a quiet gearbox', 'shop');
  const { token } = records.sessions.open(person);
  const readings = openReadingReader(file);
  let clockMs = nowMs;
  const { app } = await buildApp(
    { site: SITE, webRoot: folder },
    {
      records,
      readings,
      zoneOf,
      health: () => ({ journal: { bytes: 0, freeBytes: 0, waiting: false }, counters: {} }),
      log: memoryLog(),
      now: () => clockMs,
    },
  );
  const ask = async () => {
    const before = process.cpuUsage();
    const answer = await app.inject({
      url: '/api/assets',
      headers: { cookie: `clampline-session=${token}` },
    });
    const { user, system } = process.cpuUsage(before);
    if (answer.statusCode !== 200 || answer.json().length !== ASSETS) throw new Error(answer.body);
    if (answer.json()[ASSETS - 1].locations[0].newest === null) throw new Error('no readings in the answer');
    return { ms: (user + system) / 1000, bytes: answer.rawPayload.length };
  };
  await ask();
  const fromMemory: number[] = [];
  const fromStore: number[] = [];
  let bytes = 0;
  for (let round = 0; round < 15; round++) {
    fromMemory.push((await ask()).ms);
    // The newest readings kept are too old now, and are read again.
    clockMs += 60_000;
    const answer = await ask();
    fromStore.push(answer.ms);
    bytes = answer.bytes;
  }
  await app.close();
  await readings.close();
  await store.close();
  records.close();
  const name = `fleet page, ${ASSETS} assets with ${LOCATIONS_EACH} locations each`;
  return [
    { name: `${name}, readings known, median`, value: median(fromMemory), unit: 'ms of processor' },
    {
      name: `${name}, readings read from the store, median`,
      value: median(fromStore),
      unit: 'ms of processor',
    },
    { name: `${name}, answer`, value: bytes / 1000, unit: 'kB' },
  ];
}

/**
 * A station that lost power while writing: a journal of 2 GB whose last record is torn, a lock of a process that is no
 * more, and a collector that had come to a second before the end.
 */
async function afterCrash(folder: string): Promise<Figure[]> {
  const empty = await timeStart(join(folder, 'empty'));
  const dataDir = join(folder, 'crashed');
  const journalDir = join(dataDir, 'journal');
  mkdirSync(dataDir, { recursive: true });
  const writer = await openJournalWriter(journalDir, memoryLog());
  // Long records for the far past, packets as nodes send them for what is looked at again.
  const long = Buffer.alloc(30_000, 7);
  const arrivedAtUs = Date.now() * 1000 - 60e6;
  let bytes = 0;
  for (; bytes < JOURNAL_BYTES - 60e6; bytes += 100 * long.length) {
    await Promise.all(Array.from({ length: 100 }, () => writer.append(samplesTopic(), long, arrivedAtUs)));
  }
  let sequence = 0;
  let position = 0;
  for (; bytes < JOURNAL_BYTES; ) {
    const packets = Array.from({ length: 400 }, () => samplePacket(sequence++, NODE, 262));
    const at = await Promise.all(packets.map((packet) => writer.append(samplesTopic(), packet, arrivedAtUs)));
    // A node sends twelve of these a second.
    position = at.at(-12)!;
    bytes += packets.reduce((sum, packet) => sum + packet.length, 0);
  }
  await writer.close();
  const last = readdirSync(journalDir)
    .filter((name) => name.includes('.') && !name.endsWith('.lock'))
    .sort()
    .at(-1)!;
  appendFileSync(join(journalDir, last), long.subarray(0, 1000));
  writeFileSync(join(journalDir, 'writer.lock'), '999999 1');
  const store = await openSqliteStore(join(dataDir, 'readings.sqlite'));
  await store.commit([], position);
  await store.close();

  const before = performance.now();
  const reopened = await openJournalWriter(journalDir, memoryLog());
  const recoveryMs = performance.now() - before;
  await reopened.close();
  appendFileSync(join(journalDir, last), long.subarray(0, 1000));

  const crashed = await timeStart(dataDir);
  return [
    { name: 'journal of 2 GB after a crash: opened for writing', value: recoveryMs, unit: 'ms' },
    { name: 'station after that crash: ready for nodes and browsers', value: crashed.readyMs, unit: 'ms' },
    { name: 'station after that crash: measuring live', value: crashed.liveMs, unit: 'ms' },
    { name: 'station in an empty folder: ready for nodes and browsers', value: empty.readyMs, unit: 'ms' },
    { name: 'station in an empty folder: measuring live', value: empty.liveMs, unit: 'ms' },
  ];
}

/** Time from the command to `ready`, and until health says that all is in order. */
async function timeStart(dataDir: string): Promise<{ readyMs: number; liveMs: number }> {
  mkdirSync(dataDir, { recursive: true });
  const begin = performance.now();
  const args = ['start', '--data', dataDir, '--port', '0', '--mqtt-port', '0', '--site', SITE];
  const child = spawn(process.execPath, [cli, ...args], { stdio: ['ignore', 'pipe', 'ignore'] });
  const ended = once(child, 'exit');
  let page = '';
  for await (const line of createInterface({ input: child.stdout })) {
    page = /^\s*page\s+(\S+)/.exec(line)?.[1] ?? page;
    if (line === 'ready') break;
  }
  const readyMs = performance.now() - begin;
  child.stdout.resume();
  if (page === '') throw new Error(`the station in ${dataDir} did not start`);
  for (const until = performance.now() + 60_000; ; await sleep(20)) {
    const { ok } = (await (await fetch(`${page}/api/health`)).json()) as { ok: boolean };
    if (ok) break;
    if (performance.now() > until) throw new Error('the station is not in order after a minute');
  }
  const liveMs = performance.now() - begin;
  child.kill('SIGTERM');
  await ended;
  return { readyMs, liveMs };
}

function median(values: number[]): number {
  return values.sort((a, b) => a - b)[values.length >> 1]!;
}
