import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { decodeSamplePacket, encodeSamplePacket } from '../../firmware-protocol/index.ts';
import {
  flacBytes,
  openDataPresent,
  openRecordings,
  packetsOf,
  wireBytes,
} from '../firmware-protocol/support/recordings.ts';
import { buildFolder, make, missing } from '../firmware-protocol/support/tools.ts';

interface Measured {
  name: string;
  value: number;
  unit: string;
}

/** Processor time of this process in nanoseconds: a busy neighbour does not count. */
function cpuNs(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) * 1000;
}

/** Size against `flac -5` on the same samples, and speed of the station's decoder and the virtual nodes' encoder. */
function codec(): Measured[] {
  if (!openDataPresent) return [];
  const recordings = openRecordings();
  const results: Measured[] = [];
  if (missing('flac') === null) {
    const flac = recordings.map(flacBytes);
    const flacTotal = flac.reduce((a, b) => a + b, 0);
    const samples = recordings.reduce((sum, r) => sum + r.samples.length, 0);
    for (const frames of [256, 512, 1024, 2048]) {
      const wire = recordings.map((recording) => wireBytes(recording, frames));
      const total = wire.reduce((a, b) => a + b, 0);
      const worst = Math.max(...wire.map((bytes, index) => bytes / flac[index]!));
      results.push({ name: `wire, ${frames} frames`, value: total / samples, unit: 'bytes per sample' });
      results.push({
        name: `wire against flac -5, ${frames} frames`,
        value: total / flacTotal,
        unit: 'ratio',
      });
      results.push({ name: `the same, worst recording`, value: worst, unit: 'ratio' });
    }
    results.push({ name: 'flac -5', value: flacTotal / samples, unit: 'bytes per sample' });
    recordings.forEach((recording, index) => {
      const ratio = wireBytes(recording, 1024) / flac[index]!;
      results.push({ name: `1024 frames against flac -5, ${recording.name}`, value: ratio, unit: 'ratio' });
    });
  }
  const packets = recordings.slice(0, 12).flatMap((recording) => packetsOf(recording, 512));
  const count = packets.reduce((sum, packet) => sum + packet.samples.length * packet.samples[0]!.length, 0);
  const encoded = packets.map((packet) => encodeSamplePacket(packet));
  let start = cpuNs();
  for (const packet of packets) encodeSamplePacket(packet);
  results.push({ name: 'encode, TypeScript', value: (cpuNs() - start) / count, unit: 'ns per sample' });
  start = cpuNs();
  for (const bytes of encoded) decodeSamplePacket(bytes);
  const decodeNs = (cpuNs() - start) / count;
  results.push({ name: 'decode, TypeScript', value: decodeNs, unit: 'ns per sample' });
  const fleet = 300 * 3 * 3200;
  results.push({
    name: 'decode of 300 nodes x 3 axes x 3.2 kHz',
    value: (decodeNs * fleet) / 1e9,
    unit: 'of one core',
  });
  return results;
}

/** Code, stack and instructions of the C encoder on Cortex-M0+. */
async function core(): Promise<Measured[]> {
  if (missing('cc', 'make', 'arm-none-eabi-gcc', 'qemu-system-arm') !== null) return [];
  const build = buildFolder();
  try {
    const sizes = await make(build.folder, 'size');
    const measured = await make(build.folder, 'measure');
    const results: Measured[] = [...sizes.matchAll(/^([\w ]+) with all it calls: (\d+) code/gm)].map((m) => ({
      name: `${m[1]} with all it calls, Cortex-M0+`,
      value: Number(m[2]),
      unit: 'bytes of code',
    }));
    const stack = /stack of clampline_encode_samples: (\d+) bytes/.exec(measured);
    if (stack)
      results.push({ name: 'clampline_encode_samples', value: Number(stack[1]), unit: 'bytes of stack' });
    for (const [, signal, order, count] of measured.matchAll(/^(\w+) order (\d+): (\d+) instructions/gm))
      results.push({
        name: `encode ${signal}, order ${order}`,
        value: Number(count),
        unit: 'instructions per sample',
      });
    return results;
  } finally {
    build.dispose();
  }
}

/** Instructions per sample of the host's encoder, counted by valgrind. */
async function callgrind(): Promise<Measured[]> {
  if (missing('cc', 'make', 'valgrind') !== null) return [];
  const build = buildFolder();
  try {
    await make(build.folder, `${build.folder}/bench-encode`);
    const run = (rounds: number) =>
      promisify(execFile)('valgrind', [
        '--tool=callgrind',
        `--callgrind-out-file=${build.folder}/out`,
        `${build.folder}/bench-encode`,
        String(rounds),
      ]);
    const total = async (rounds: number) => Number(/Collected : (\d+)/.exec((await run(rounds)).stderr)?.[1]);
    // The difference of two runs leaves out the start of the program; 20 packets of 3 x 512.
    const perSample = ((await total(21)) - (await total(1))) / (20 * 3 * 512);
    return [{ name: 'encode resonance, order 12, host', value: perSample, unit: 'instructions per sample' }];
  } finally {
    build.dispose();
  }
}

/** What the wire format and its implementations cost. */
export async function bench(): Promise<Measured[]> {
  return [...codec(), ...(await core()), ...(await callgrind())];
}
