import { encodeSamplePacket } from '../../../firmware-protocol/index.ts';
import { Kind } from '../../../firmware-protocol/layout.ts';
import { sampleExample, type Vector, validVectors } from './examples.ts';
import { reseal } from './hostile.ts';

type Change = [name: string, edit: (bytes: Uint8Array, view: DataView) => void];

const bytesOf = (vector: Vector) => Uint8Array.from(Buffer.from(vector.hex, 'hex'));
const set8 = (at: number, value: number) => (bytes: Uint8Array) => {
  bytes[at] = value;
};
const set16 = (at: number, value: number) => (_: Uint8Array, view: DataView) =>
  view.setUint16(at, value, true);
const set32 = (at: number, value: number) => (_: Uint8Array, view: DataView) =>
  view.setUint32(at, value, true);
const set64 = (at: number, value: bigint) => (_: Uint8Array, view: DataView) =>
  view.setBigUint64(at, value, true);
const beyond = 2n ** 53n;

/** Fields outside their range, by kind; each is applied alone to the first valid message of the kind. */
const FIELDS: Record<number, Change[]> = {
  [Kind.Samples]: [
    ['first sample 2^53', set64(20, beyond)],
    ['node clock 2^53', set64(28, beyond)],
    ['rate 99 mHz', set32(36, 99)],
    ['rate above 200 kHz', set32(36, 200_000_001)],
    ['no frame', set16(44, 0)],
    ['8193 frames', set16(44, 8193)],
    ['no channel', set8(46, 0)],
    ['17 channels', set8(46, 17)],
    ['encoding 2', set8(47, 2)],
    ['time source 3', set8(48, 3)],
    ['capture mode 3', set8(49, 3)],
    ['axis 4', set8(52, 4)],
  ],
  [Kind.Status]: [
    ['state 4', set8(16, 4)],
    ['reset cause 6', set8(17, 6)],
    ['time source 3', set8(18, 3)],
    ['battery 101 %', set8(19, 101)],
    ['node clock 2^53', set64(20, beyond)],
    ['buffer fill 1001', set16(30, 1001)],
    ['signal 1 dBm', set8(34, 1)],
    ['signal -127 dBm', set8(34, 129)],
    ['33 bits', set8(35, 33)],
    ['rate 1 mHz', set32(52, 1)],
    ['text of 33 bytes', set8(68, 33)],
    ['text with a line break', set8(69, 10)],
  ],
  [Kind.TimeRequest]: [
    ['t0 2^53', set64(16, beyond)],
    ['previous t2 before t1', set64(40, 5n)],
    ['previous t3 before t0', set64(24, 9_000n)],
  ],
  [Kind.Event]: [
    ['node clock 2^53', set64(20, beyond)],
    ['sample 2^53', set64(28, beyond)],
    ['time source 3', set8(36, 3)],
    ['event 0', set8(37, 0)],
    ['event 5', set8(37, 5)],
    ['sensor 16', set8(38, 16)],
    ['result 1', set16(42, 1)],
  ],
  [Kind.TimeAnswer]: [
    ['t0 2^53', set64(16, beyond)],
    ['t1 0', set64(24, 0n)],
    ['t2 before t1', set64(32, 1n)],
    ['t2 2^53', set64(32, beyond)],
  ],
  [Kind.Command]: [
    ['action 0', set8(18, 0)],
    ['action 7', set8(18, 7)],
    ['start with an argument', set32(20, 1)],
  ],
  [Kind.Journaled]: [
    ['from above up to', set32(16, 21)],
    ['sample 2^53', set64(24, beyond)],
  ],
};

/** A packet of one channel and 40 frames whose predicted samples are these bits, written as "0", "1" and spaces. */
function predicted(bits: string, frames = 40): Uint8Array {
  const digits = bits.replaceAll(' ', '');
  const payload = (digits.match(/.{1,8}/g) ?? []).map((byte) => Number.parseInt(byte.padEnd(8, '0'), 2));
  const base = encodeSamplePacket({ ...sampleExample, samples: [new Int16Array(frames)] }, 'plain').subarray(
    0,
    53,
  );
  const bytes = Uint8Array.from([...base, ...payload, 0, 0, 0, 0]);
  bytes[47] = 1;
  return reseal(bytes);
}

const head = '00000000 0000000000000000'; // order 0, offset 0
const ones = (count: number) => '1'.repeat(count);

const PAYLOADS: [name: string, bytes: Uint8Array][] = [
  ['order 17', predicted('00010001 0000000000000000 0000')],
  ['no coding byte', predicted('')],
  ['ends in the offset', predicted('00000000 00000000')],
  ['ends in the reflection values', predicted('00010000 0000000000000000 000001')],
  ['reflection value -32', predicted(`00000001 0000000000000000 100000 0000 ${ones(32)} 1 ${ones(8)}`)],
  ['ends in the codes', predicted(`${head} 0000 ${ones(28)}`)],
  ['Rice parameter below 0', predicted(`${head} 0000 ${ones(32)} 001 ${ones(9)}`)],
  ['Rice parameter above 15', predicted(`${head} 1111 ${`1${'0'.repeat(15)}`.repeat(32)} 01 ${ones(8)}`)],
  ['fill bits that are not zero', predicted(`${head} 0000 ${ones(32)} 1 ${ones(8)} 111`)],
  ['a byte too many', predicted(`${head} 0000 ${ones(32)} 1 ${ones(8)} 000 00000000`)],
  ['value above 65535', predicted(`${head} 1111 001 ${'0'.repeat(15)} ${`1${'0'.repeat(15)}`.repeat(7)}`, 8)],
  ['ends in an escape', predicted(`${head} 0000 ${'0'.repeat(24)} 0000`, 1)],
  ['plain channel too short', predicted(`11111111 ${'0'.repeat(16)}`, 2)],
];

/** Messages that must be refused; which code is left to the decoders, and held by the committed file. */
export function invalidVectors(): Vector[] {
  const vectors: Vector[] = [];
  const add = (name: string, kind: number, bytes: Uint8Array) =>
    vectors.push({ name, kind, hex: Buffer.from(bytes).toString('hex') });
  const valid = validVectors();
  for (const kind of Object.values(Kind)) {
    const first = valid.find((v) => v.kind === kind && !v.name.endsWith('first'))!;
    const changed = (name: string, edit: Change[1], sealed: boolean) => {
      const bytes = bytesOf(first);
      edit(bytes, new DataView(bytes.buffer));
      add(`${first.name}: ${name}`, kind, sealed ? reseal(bytes) : bytes);
    };
    add(`${first.name}: nothing at all`, kind, new Uint8Array(0));
    add(`${first.name}: shorter than its kind allows`, kind, reseal(bytesOf(first).slice(0, 25)));
    changed('magic', set8(0, 0x44), true);
    changed('kind', set8(3, 99), true);
    changed('version 2', set8(2, 2), true);
    changed('version 0', set8(2, 0), true);
    changed('one bit', (bytes) => bytes.set([bytes.at(-5)! ^ 16], bytes.length - 5), false);
    const longest = kind === Kind.Samples ? 131_144 : 512;
    const long = new Uint8Array(longest + 1);
    long.set(bytesOf(first));
    if (kind !== Kind.Samples) add(`${first.name}: longer than any`, kind, reseal(long));
    for (const [name, edit] of FIELDS[kind]!) changed(name, edit, true);
  }
  const plain = bytesOf(valid[0]!);
  add('samples: a sample too few', Kind.Samples, reseal(plain.slice(0, -2)));
  add('samples: a byte too many', Kind.Samples, reseal(Uint8Array.from([...plain, 0])));
  for (const [name, bytes] of PAYLOADS) add(`samples: ${name}`, Kind.Samples, bytes);
  return vectors;
}
