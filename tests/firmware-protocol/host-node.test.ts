import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import {
  decodeEvent,
  decodeSamplePacket,
  decodeStatus,
  decodeTimeRequest,
  encodeCommand,
  exchangeOffset,
  type SamplePacket,
  toNodeTopic,
} from '../../firmware-protocol/index.ts';
import { NODE, SITE, type Station, startStation, TOKEN } from '../broker/station.ts';
import { buildFolder, missing } from './support/tools.ts';

const source = fileURLToPath(new URL('../../firmware-protocol/host-node/', import.meta.url));
const noCompiler = missing('cc', 'make');
const VARIANTS = [
  {
    title: 'the host node on libmosquitto',
    program: 'clampline-host-node',
    absent: noCompiler ?? (hasLibrary() ? null : 'skipped: libmosquitto not present'),
  },
  { title: 'the host node on its own MQTT client', program: 'clampline-host-node-own', absent: noCompiler },
];

function hasLibrary(): boolean {
  const preprocess = 'echo "#include <mosquitto.h>" | cc -E - > /dev/null 2>&1';
  return spawnSync('sh', ['-c', preprocess]).status === 0;
}

const WAITING = { timeout: 20_000, interval: 100 };
const FRAMES = 9000;

for (const variant of VARIANTS) {
  const { absent } = variant;
  describe.skipIf(absent !== null)(`${variant.title}${absent === null ? '' : ` (${absent})`}`, () => {
    const build = buildFolder();
    const program = join(build.folder, variant.program);
    const raw = join(build.folder, 'samples.raw');
    const samples = Int16Array.from(
      { length: 3 * FRAMES },
      (_, i) => 3000 * Math.sin(i / 7) + ((i * i) % 61),
    );
    let station: Station | undefined;
    let node: ChildProcess;
    let said = '';

    beforeAll(() => {
      execFileSync('make', [`B=${build.folder}`, program], { cwd: source });
      writeFileSync(raw, new Uint8Array(samples.buffer));
    }, 120_000);
    afterEach(async () => {
      if (node.exitCode === null) node.kill('SIGKILL');
      await station?.close();
      station = undefined;
    });
    afterAll(build.dispose);

    function start(port: number, ...options: string[]): Promise<unknown> {
      node = spawn(program, ['--site', SITE, '--id', NODE, '--port', String(port), ...options], {
        env: { ...process.env, CLAMPLINE_TOKEN: TOKEN },
        stdio: ['ignore', 'ignore', 'pipe'],
      });
      said = '';
      node.stderr!.on('data', (text) => {
        said += text;
      });
      return once(node, 'exit');
    }

    async function messages(kind: string): Promise<Buffer[]> {
      const records = (await station?.records()) ?? [];
      return records.filter((record) => record.topic.endsWith(`/${kind}`)).map((record) => record.payload);
    }

    async function packets(): Promise<SamplePacket[]> {
      return (await messages('samples')).map((bytes) => {
        const decoded = decodeSamplePacket(bytes);
        if (!decoded.ok) throw new Error(decoded.reason);
        return decoded.packet;
      });
    }

    /** All samples of the journal, interleaved again, by their counter. */
    function joined(from: SamplePacket[]): Int16Array {
      const all = new Int16Array(3 * FRAMES);
      for (const packet of from) {
        packet.samples.forEach((channel, c) => {
          channel.forEach((value, i) => {
            all[3 * (Number(packet.firstSample) + i) + c] = value;
          });
        });
      }
      return all;
    }

    const file = ['--raw', raw, '--rate', '4500', '--channels', '3'];

    it('delivers a file sample by sample, with status and exchanges of time', async () => {
      station = await startStation();
      const ended = start(station.broker.port, ...file);
      expect(await ended).toEqual([0, null]);
      const got = await packets();
      expect(got.map((packet) => packet.sequence)).toEqual(got.map((_, index) => index));
      expect(joined(got)).toEqual(samples);
      expect(got.at(-1)).toMatchObject({ timeSource: 1, nominalRateHz: 4500, fullScaleMPerS2: 156.9064 });

      const statuses = (await messages('status')).map((bytes) => decodeStatus(bytes));
      expect(statuses[0]).toMatchObject({ ok: true, message: { state: 'sampling', sensorPart: '' } });
      // It said goodbye: the last will did not come.
      expect(statuses.at(-1)).toMatchObject({
        ok: true,
        message: { state: 'stopped', nextSequence: got.length },
      });

      const requests = (await messages('time')).map((bytes) => decodeTimeRequest(bytes));
      const exchanges = requests.flatMap((r) =>
        r.ok && r.message.previous !== null ? [r.message.previous] : [],
      );
      expect(exchanges.length).toBeGreaterThanOrEqual(1);
      // Same computer: the clocks differ by a constant, and the exchange says so within its own delay.
      const { offsetUs, delayUs } = exchangeOffset(exchanges[0]!);
      const trueOffsetUs = Date.now() * 1000 - Number(process.hrtime.bigint() / 1000n);
      expect(Math.abs(offsetUs - trueOffsetUs)).toBeLessThan(delayUs / 2 + 20_000);
    });

    it('keeps what it measured while the station was away', async () => {
      station = await startStation();
      const { port } = station.broker;
      await station.close();
      station = undefined;
      const ended = start(port, ...file);
      await vi.waitFor(() => expect(said).toContain('refused'), WAITING);
      station = await startStation({ broker: { port } });
      expect(await ended).toEqual([0, null]);
      const got = await packets();
      expect(got[0]).toMatchObject({ sequence: 0, timeSource: 0 });
      expect(joined(got)).toEqual(samples);
    });

    it('obeys commands, and reports button and tap', async () => {
      station = await startStation();
      const ended = start(station.broker.port, '--rate', '1600');
      await vi.waitFor(async () => expect((await packets()).length).toBeGreaterThan(1), WAITING);
      const service = await station.connect('dashboard');
      const header = { nodeId: NODE, bootId: 0 };
      const tell = (bytes: Uint8Array) =>
        service.publishAsync(toNodeTopic(SITE, NODE, 'command'), Buffer.from(bytes), { qos: 1 });
      await tell(encodeCommand({ ...header, commandId: 1, action: 'set-rate', rateHz: 3000 }));
      await tell(encodeCommand({ ...header, commandId: 2, action: 'set-range', fullScaleMPerS2: 20 }));
      node.kill('SIGUSR1');
      const events = async () =>
        (await messages('event'))
          .map((bytes) => decodeEvent(bytes))
          .flatMap((e) => (e.ok ? [e.message] : []));
      await vi.waitFor(async () => expect((await events()).length).toBe(3), WAITING);
      node.kill('SIGUSR2');
      await vi.waitFor(async () => expect((await events()).length).toBe(4), WAITING);
      await vi.waitFor(async () => expect((await packets()).at(-1)?.nominalRateHz).toBe(3200), WAITING);
      expect(await events()).toEqual(
        expect.arrayContaining([
          expect.objectContaining({ event: 'command-done', commandId: 1, value: 3_200_000 }),
          expect.objectContaining({ event: 'command-refused', commandId: 2, result: -15 }),
          expect.objectContaining({ event: 'noise-mark' }),
          expect.objectContaining({ event: 'tap', sensor: 0 }),
        ]),
      );
      const all = await packets();
      expect(new Set(all.map((packet) => packet.bootId)).size).toBe(2);
      expect(all.find((packet) => packet.nominalRateHz === 3200)).toMatchObject({
        sequence: 0,
        firstSample: 0n,
      });
      node.kill('SIGTERM');
      expect(await ended).toEqual([0, null]);
    });

    it('leaves its last will when it dies', async () => {
      station = await startStation();
      void start(station.broker.port);
      await vi.waitFor(async () => expect((await packets()).length).toBeGreaterThan(0), WAITING);
      node.kill('SIGKILL');
      await vi.waitFor(async () => {
        const last = decodeStatus((await messages('status')).at(-1)!);
        expect(last).toMatchObject({ ok: true, message: { state: 'offline' } });
      }, WAITING);
    });

    it('ends at once when the station does not know it', async () => {
      station = await startStation();
      node = spawn(program, ['--site', SITE, '--id', NODE, '--port', String(station.broker.port)], {
        env: { ...process.env, CLAMPLINE_TOKEN: 'not the token' },
      });
      expect(await once(node, 'exit')).toEqual([3, null]);
    });
  });
}
