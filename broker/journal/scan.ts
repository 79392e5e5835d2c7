/** Finds records in bytes. Pure: any bytes give an answer, never an exception. */
import { crc32c } from '../../firmware-protocol/index.ts';
import { MAX_PAYLOAD_BYTES, MAX_TOPIC_BYTES, RECORD_HEADER_BYTES } from './format.ts';

export type Parsed =
  /** A record; `topic` and `payload` are views of the bytes given. `end` is the offset behind it. */
  | { kind: 'record'; arrivedAtUs: number; topic: Buffer; payload: Buffer; end: number }
  /** The bytes end before the record does; it is whole once `needed` bytes from `at` are there. */
  | { kind: 'short'; needed: number }
  /** The header is sound, what follows it is not: the next record begins at `end`. */
  | { kind: 'damaged-body'; end: number }
  | { kind: 'damaged-header' };

/** Reads the record at offset `at` of `bytes`. */
export function parseRecord(bytes: Buffer, at: number, saltCrc: number): Parsed {
  if (bytes.length - at < RECORD_HEADER_BYTES) return { kind: 'short', needed: RECORD_HEADER_BYTES };
  if (!soundHeader(bytes, at, saltCrc)) return { kind: 'damaged-header' };
  const bodyAt = at + RECORD_HEADER_BYTES;
  const payloadAt = bodyAt + bytes.readUInt16LE(at + 8);
  const end = payloadAt + bytes.readUInt32LE(at + 4);
  if (end > bytes.length) return { kind: 'short', needed: end - at };
  if (bytes.readUInt32LE(at + 20) !== crc32c(bytes.subarray(bodyAt, end), saltCrc)) {
    return { kind: 'damaged-body', end };
  }
  return {
    kind: 'record',
    arrivedAtUs: Number(bytes.readBigUInt64LE(at + 12)),
    topic: bytes.subarray(bodyAt, payloadAt),
    payload: bytes.subarray(payloadAt, end),
    end,
  };
}

/** Offset of the next sound record header at or behind `from`; -1 when there is none in these bytes. */
export function findHeader(bytes: Buffer, from: number, saltCrc: number): number {
  for (let at = from; at + RECORD_HEADER_BYTES <= bytes.length; at++) {
    if (soundHeader(bytes, at, saltCrc)) return at;
  }
  return -1;
}

function soundHeader(bytes: Buffer, at: number, saltCrc: number): boolean {
  // The cheap conditions first: a search runs over every byte of what is damaged.
  return (
    bytes[at + 10] === 0 &&
    bytes[at + 11] === 0 &&
    bytes.readUInt16LE(at + 8) <= MAX_TOPIC_BYTES &&
    bytes.readUInt32LE(at + 4) <= MAX_PAYLOAD_BYTES &&
    bytes.readUInt32LE(at) === crc32c(bytes.subarray(at + 4, at + RECORD_HEADER_BYTES), saltCrc)
  );
}
