import { type ChildProcess, execFile, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import {
  decodeEvent,
  decodeSamplePacket,
  decodeStatus,
  decodeTimeRequest,
  exchangeOffset,
  PacketFlag,
  type SamplePacket,
} from '../../firmware-protocol/index.ts';
import { NODE, SITE, type Station, startStation, TOKEN } from '../broker/station.ts';
import { buildFolder, missing } from './support/tools.ts';

const source = fileURLToPath(new URL('../../firmware-protocol/board-example/', import.meta.url));
const noHost = missing('cc', 'make');
const noArm = noHost ?? missing('arm-none-eabi-gcc');

/** Sources of lwIP (Debian: `apt-get source lwip`). */
const lwip = process.env['LWIP'] ?? '';
const noLwip =
  noArm ??
  (existsSync(join(lwip, 'src/core/tcp.c'))
    ? null
    : 'skipped: lwIP sources not present (set LWIP to their folder)');
const noNetwork = noLwip ?? missing('qemu-system-arm');
const titled = (name: string, absent: string | null) => (absent === null ? name : `${name} (${absent})`);

const build = buildFolder();
afterAll(build.dispose);
const make = (...targets: string[]) =>
  promisify(execFile)('make', [`B=${build.folder}`, ...targets], { cwd: source });

describe('the board example', () => {
  it.skipIf(noArm !== null)(titled('compiles strictly for Cortex-M0+ and Cortex-M4', noArm), async () => {
    await make('check'); // every warning is an error: make fails
  });

  it.skipIf(noLwip !== null)(titled('compiles strictly for its Wi-Fi board', noLwip), async () => {
    await make(`LWIP=${lwip}`, 'check-pico-w');
  });

  it.skipIf(noHost !== null)(
    titled('measures, stores and forwards with a simulated accelerometer', noHost),
    async () => {
      const { stdout } = await make('test');
      expect(stdout).toMatch(/\n\d{2,} checks passed, 0 failed\n/);
    },
  );
});

/** simulated_value of simulated-accelerometer.c, left justified as the driver sets the part. */
function simulatedValue(frame: number, axis: number): number {
  const noise = (Math.imul(frame * 3 + axis, 2654435761 | 0) >>> 26) - 32;
  const saw = ((frame * (axis + 1)) % 128) - 64;
  return ((axis === 2 ? 256 : 0) + 2 * saw + noise) << 3;
}

/** Number of the part's frame, from `from` on, with which the packet begins; -1 when there is none. */
function findFrames(packet: SamplePacket, from: number): number {
  for (let first = from; first < from + 20_000; first++) {
    if (
      packet.samples.every((channel, axis) => channel.every((v, i) => v === simulatedValue(first + i, axis)))
    )
      return first;
  }
  return -1;
}

describe.skipIf(noNetwork !== null)(
  titled('the firmware on an emulated Cortex-M4 with a network card', noNetwork),
  () => {
    let station: Station;
    let board: ChildProcess | undefined;
    beforeAll(
      () => void execFileSync('make', [`B=${build.folder}`, `LWIP=${lwip}`, 'emulated'], { cwd: source }),
      120_000,
    );
    afterEach(async () => {
      board?.kill('SIGKILL');
      await station.close();
    });

    it('publishes over TCP what its accelerometer measured, as any node does', async () => {
      station = await startStation();
      const image = join(build.folder, 'emulated.elf');
      const words = ['node', SITE, NODE, TOKEN, String(station.broker.port), '5'].map(
        (word) => `arg=${word}`,
      );
      const semihosting = `enable=on,target=native,${words.join(',')}`;
      board = spawn('qemu-system-arm', [
        ...['-M', 'mps2-an386', '-nographic', '-monitor', 'none', '-kernel', image],
        ...['-semihosting-config', semihosting, '-nic', 'user,restrict=off'],
      ]);
      let said = '';
      board.stdout!.on('data', (text) => {
        said += text;
      });
      board.stderr!.on('data', (text) => {
        said += text;
      });
      const [code] = await once(board, 'exit');
      expect(said).toMatch(/ packets, 0 given up, 0 left/);
      expect(code).toBe(0);

      const records = await station.records();
      const payloads = (kind: string) =>
        records.filter((record) => record.topic.endsWith(`/${kind}`)).map((record) => record.payload);
      const packets = payloads('samples').map((bytes) => {
        const decoded = decodeSamplePacket(bytes);
        if (!decoded.ok) throw new Error(decoded.reason);
        return decoded.packet;
      });
      expect(packets.length).toBeGreaterThan(20);
      expect(packets.map((packet) => packet.sequence)).toEqual(packets.map((_, index) => index));
      expect(packets.at(-1)?.timeSource).toBe(1);
      // A busy computer stops the emulator for longer than the part's FIFO lasts: then frames are missing, and the
      // packet says so. Every packet must hold frames the part produced, one after another, behind the packet before.
      let next = 0;
      for (const packet of packets) {
        const found = findFrames(packet, next);
        expect(found, `frames of packet ${packet.sequence}`).not.toBe(-1);
        if ((packet.flags & PacketFlag.Overrun) === 0) expect(found).toBe(next);
        next = found + packet.samples[0]!.length;
      }
      const statuses = payloads('status').map((bytes) => decodeStatus(bytes));
      expect(statuses[0]).toMatchObject({ ok: true, message: { state: 'sampling', sensorPart: 'ADXL345' } });
      const events = payloads('event').map((bytes) => decodeEvent(bytes));
      expect(events).toContainEqual(
        expect.objectContaining({ message: expect.objectContaining({ event: 'tap' }) }),
      );
      const exchanges = payloads('time')
        .map((bytes) => decodeTimeRequest(bytes))
        .flatMap((request) => (request.ok && request.message.previous ? [request.message.previous] : []));
      expect(exchanges.length).toBeGreaterThanOrEqual(3);
      // Two exchanges of one boot must agree within what both allow for.
      const [first, second] = exchanges.slice(1, 3).map(exchangeOffset);
      const allowed = (first!.delayUs + second!.delayUs) / 2 + 1000;
      expect(Math.abs(first!.offsetUs - second!.offsetUs)).toBeLessThan(allowed);
    }, 60_000);
  },
);
