/**
 * Journal format, version 1. Little-endian throughout. UNSTABLE while the station's version is below 1.
 *
 * The journal is a folder of segment files. A *position* is a byte offset in the whole journal; a segment named
 * `0000000067108864.journal` begins at position 67108864, so byte `n` of that file has position 67108864 + n.
 * Segments do not overlap and are read in the order of their names. There may be a hole between two of them: each
 * start of the station opens a new segment beyond anything a reader can have seen before a power cut, so that a
 * position is never used twice (writer.ts). Only the last segment is ever written.
 *
 * Segment header, 40 bytes:
 *
 * | offset | bytes | field |
 * |---|---|---|
 * | 0 | 8 | "CLJOURN" and the version (1) |
 * | 8 | 8 | position of this segment |
 * | 16 | 8 | position at which the segment before it ended |
 * | 24 | 8 | salt: random bytes |
 * | 32 | 4 | 0 |
 * | 36 | 4 | CRC-32C of bytes 0 to 35 |
 *
 * Records follow without padding:
 *
 * | offset | bytes | field |
 * |---|---|---|
 * | 0 | 4 | CRC-32C of salt and bytes 4 to 23 |
 * | 4 | 4 | payload length |
 * | 8 | 2 | topic length |
 * | 10 | 2 | 0 |
 * | 12 | 8 | time of arrival, Unix microseconds |
 * | 20 | 4 | CRC-32C of salt, topic and payload |
 * | 24 | | topic (UTF-8), payload |
 *
 * Why two checksums: a length that is known to be right tells a record still being written from a damaged one, and
 * lets a reader step over a damaged payload alone. Why a salt: without it, bytes that a client put into a payload, or
 * an old segment's blocks that a crash left behind, could pass for records when a reader searches for the next good one.
 */
import { crc32c } from '../../firmware-protocol/index.ts';

export const SEGMENT_HEADER_BYTES = 40;
export const RECORD_HEADER_BYTES = 24;
/** Bounds of a record: what a reader may have to hold, and what a header must satisfy to be believed. */
export const MAX_TOPIC_BYTES = 1024;
export const MAX_PAYLOAD_BYTES = 1_048_576;

/** Distance of a run's first segment from the last one's end: far more than is ever written without being durable. */
export const RESTART_GAP_BYTES = 16 * 1024 ** 2;

const MAGIC = Buffer.from('CLJOURN');
const VERSION = 1;

export interface SegmentHeader {
  start: number;
  previousEnd: number;
  /** CRC state after the salt: every checksum of the segment continues from here. */
  saltCrc: number;
}

export type SegmentHeaderResult =
  | { ok: true; header: SegmentHeader }
  | { ok: false; problem: 'short' | 'damaged' | 'newer' };

export function encodeSegmentHeader(start: number, previousEnd: number, salt: Uint8Array): Buffer {
  const bytes = Buffer.alloc(SEGMENT_HEADER_BYTES);
  MAGIC.copy(bytes);
  bytes.writeUInt8(VERSION, 7);
  bytes.writeBigUInt64LE(BigInt(start), 8);
  bytes.writeBigUInt64LE(BigInt(previousEnd), 16);
  bytes.set(salt.subarray(0, 8), 24);
  bytes.writeUInt32LE(crc32c(bytes.subarray(0, 36)), 36);
  return bytes;
}

export function decodeSegmentHeader(bytes: Buffer): SegmentHeaderResult {
  if (bytes.length < SEGMENT_HEADER_BYTES) return { ok: false, problem: 'short' };
  if (bytes.readUInt32LE(36) !== crc32c(bytes.subarray(0, 36)) || bytes.compare(MAGIC, 0, 7, 0, 7) !== 0) {
    return { ok: false, problem: 'damaged' };
  }
  if (bytes.readUInt8(7) > VERSION) return { ok: false, problem: 'newer' };
  return {
    ok: true,
    header: {
      start: Number(bytes.readBigUInt64LE(8)),
      previousEnd: Number(bytes.readBigUInt64LE(16)),
      saltCrc: crc32c(bytes.subarray(24, 32)),
    },
  };
}

export function recordBytes(topic: Uint8Array, payload: Uint8Array): number {
  return RECORD_HEADER_BYTES + topic.length + payload.length;
}

/** Writes a record into `into` at `at`; returns the offset behind it. */
export function writeRecord(
  into: Buffer,
  at: number,
  record: { topic: Uint8Array; payload: Uint8Array; arrivedAtUs: number },
  saltCrc: number,
): number {
  const { topic, payload, arrivedAtUs } = record;
  const bodyAt = at + RECORD_HEADER_BYTES;
  const end = bodyAt + topic.length + payload.length;
  into.writeUInt32LE(payload.length, at + 4);
  into.writeUInt16LE(topic.length, at + 8);
  into.writeUInt16LE(0, at + 10);
  into.writeBigUInt64LE(BigInt(arrivedAtUs), at + 12);
  into.set(topic, bodyAt);
  into.set(payload, bodyAt + topic.length);
  into.writeUInt32LE(crc32c(into.subarray(bodyAt, end), saltCrc), at + 20);
  into.writeUInt32LE(crc32c(into.subarray(at + 4, bodyAt), saltCrc), at);
  return end;
}
