import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  crc32c,
  decodeCommand,
  decodeEvent,
  decodeSamplePacket,
  decodeStatus,
  encodeCommand,
  encodeEvent,
  encodeSamplePacket,
  encodeStatus,
  exchangeOffset,
  offlineStatus,
} from '../../firmware-protocol/index.ts';
import { samplePacket } from './support/arbitrary.ts';
import { sampleExample, statusExample } from './support/examples.ts';
import { reseal } from './support/hostile.ts';

describe('sample packets', () => {
  it('come back unchanged from either encoding, and never grow by compression', () => {
    fc.assert(
      fc.property(samplePacket, (packet) => {
        const plain = encodeSamplePacket(packet, 'plain');
        const smallest = encodeSamplePacket(packet);
        expect(smallest.length).toBeLessThanOrEqual(plain.length);
        expect(decodeSamplePacket(plain)).toEqual({ ok: true, packet });
        expect(decodeSamplePacket(smallest)).toEqual({ ok: true, packet });
      }),
      { numRuns: 300 },
    );
  });

  it('give a packet or a code for a damaged packet, never an exception', () => {
    fc.assert(
      fc.property(
        samplePacket,
        fc.array(fc.tuple(fc.nat(), fc.nat({ max: 255 })), { minLength: 1, maxLength: 20 }),
        fc.boolean(),
        (packet, hits, sealed) => {
          const bytes = encodeSamplePacket(packet);
          for (const [at, value] of hits) bytes[at % bytes.length] = value;
          const decoded = decodeSamplePacket(sealed ? reseal(bytes) : bytes);
          if (!decoded.ok) expect(decoded.code).toBeLessThan(0);
          else expect(decoded.packet.samples.length).toBe(decoded.packet.channels.length);
        },
      ),
      { numRuns: 500 },
    );
  });

  it('are read from the middle of a larger buffer', () => {
    const bytes = encodeSamplePacket(sampleExample);
    const larger = new Uint8Array(bytes.length + 20).fill(0xaa);
    larger.set(bytes, 7);
    const decoded = decodeSamplePacket(larger.subarray(7, 7 + bytes.length));
    expect(decoded).toEqual({ ok: true, packet: sampleExample });
  });

  it.each([
    ['node id', { nodeId: 'ABCDEF0123456789' }],
    ['bootId', { bootId: -1 }],
    ['sequence', { sequence: 2 ** 32 }],
    ['firstSample', { firstSample: -1n }],
    ['nodeClockUs', { nodeClockUs: 2n ** 53n }],
    ['nominal rate', { nominalRateHz: Number.NaN }],
    ['nominal rate', { nominalRateHz: 0 }],
    ['full scale', { fullScaleMPerS2: 5000 }],
    ['flags', { flags: 65536 }],
    ['sensor', { channels: [{ sensor: 16, axis: 'x' as const }] }],
    ['channels', { channels: [] }],
    ['frames', { samples: [new Int16Array(0)] }],
    ['one sample array', { samples: [new Int16Array(16), new Int16Array(16)] }],
  ])('refuse to be written with a wrong %s, and say so', (field, change) => {
    expect(() => encodeSamplePacket({ ...sampleExample, ...change })).toThrow(new RegExp(field));
  });
});

describe('checksum', () => {
  // RFC 3720 (iSCSI), appendix B.4.
  it.each([
    ['32 bytes of 0', new Uint8Array(32), 0x8a9136aa],
    ['32 bytes of 0xff', new Uint8Array(32).fill(0xff), 0x62a8ab43],
    ['0 to 31', Uint8Array.from({ length: 32 }, (_, i) => i), 0x46dd794e],
    ['31 to 0', Uint8Array.from({ length: 32 }, (_, i) => 31 - i), 0x113fdb5c],
  ])('of %s is as published', (_, bytes, expected) => {
    expect(crc32c(bytes)).toBe(expected);
    expect(crc32c(bytes.subarray(9), crc32c(bytes.subarray(0, 9)))).toBe(expected);
  });
});

describe('other messages', () => {
  it('keep a status through writing and reading, and read one that has grown', () => {
    const bytes = encodeStatus(statusExample);
    expect(decodeStatus(bytes)).toEqual({ ok: true, message: statusExample });
    const grown = reseal(Uint8Array.from([...bytes.subarray(0, -4), 1, 2, 3, 0, 0, 0, 0]));
    expect(decodeStatus(grown)).toEqual({ ok: true, message: statusExample });
    const will = offlineStatus({ nodeId: '00000000000000ff', bootId: 9 });
    expect(decodeStatus(encodeStatus(will))).toEqual({ ok: true, message: will });
    expect(() => encodeStatus({ ...statusExample, batteryPercent: 101 })).toThrow(/battery/);
    expect(() => encodeStatus({ ...statusExample, sensorPart: 'ä' })).toThrow(/sensorPart/);
  });

  it('keep every command', () => {
    const header = { nodeId: '00000000000000ff', bootId: 0, commandId: 7 };
    const actions = [
      { action: 'start' },
      { action: 'stop' },
      { action: 'set-rate', rateHz: 26_667 },
      { action: 'set-range', fullScaleMPerS2: 39.2266 },
      { action: 'identify', seconds: 30 },
      { action: 'report' },
    ] as const;
    for (const action of actions) {
      const command = { ...header, ...action };
      expect(decodeCommand(encodeCommand(command))).toEqual({ ok: true, message: command });
    }
    expect(() => encodeCommand({ ...header, action: 'identify', seconds: 601 })).toThrow(/seconds/);
  });

  it('keep an event', () => {
    const event = {
      ...{ nodeId: '00000000000000ff', bootId: 1, eventCount: 5, nodeClockUs: 77n, timeSource: 1 as const },
      ...{ sample: 1234n, event: 'tap' as const, sensor: 2, commandId: 0, result: 0, value: 55_000 },
    };
    expect(decodeEvent(encodeEvent(event))).toEqual({ ok: true, message: event });
    expect(() => encodeEvent({ ...event, sensor: 16 })).toThrow(/sensor/);
  });

  it('work out offset and delay of an exchange as RFC 5905 does', () => {
    fc.assert(
      fc.property(
        fc.nat({ max: 10 ** 9 }),
        fc.nat({ max: 50_000 }),
        fc.nat({ max: 5_000 }),
        fc.nat({ max: 50_000 }),
        (nodeUs, thereUs, heldUs, backUs) => {
          const offset = 1_750_000_000_000_000n;
          const t0Us = BigInt(nodeUs);
          const t1Us = offset + t0Us + BigInt(thereUs);
          const t2Us = t1Us + BigInt(heldUs);
          const t3Us = t2Us - offset + BigInt(backUs);
          const { offsetUs, delayUs } = exchangeOffset({ t0Us, t1Us, t2Us, t3Us });
          expect(delayUs).toBe(thereUs + backUs);
          expect(Math.abs(offsetUs - Number(offset))).toBeLessThanOrEqual(delayUs / 2 + 0.5);
        },
      ),
    );
  });
});
