import { crc32c } from './checksum.ts';
import { DecodeError, type DecodeFailure, fail } from './errors.ts';
import {
  CHECKSUM_BYTES,
  HEADER_BYTES,
  type Kind,
  MAGIC,
  MAX_MESSAGE_BYTES,
  MESSAGE_VERSION,
} from './layout.ts';

/** What every message begins with. */
export interface Header {
  /** 64-bit hardware identity as 16 lower-case hex digits. */
  nodeId: string;
  /** Random for each boot of the node. */
  bootId: number;
}

type Opened = { ok: true; view: DataView; header: Header };

/** Checks magic, kind, version, checksum and length, in the order SPEC.md fixes. */
export function open(
  bytes: Uint8Array,
  kind: Kind,
  shortest: number,
  longest: number,
): Opened | DecodeFailure {
  if (bytes.length < shortest)
    return fail(DecodeError.TooShort, `${bytes.length} bytes, at least ${shortest} needed`);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (view.getUint16(0, true) !== MAGIC) return fail(DecodeError.BadMagic, 'does not begin with "CL"');
  if (view.getUint8(3) !== kind)
    return fail(DecodeError.BadKind, `message kind ${view.getUint8(3)} where ${kind} belongs`);
  if (view.getUint8(2) !== MESSAGE_VERSION) {
    return fail(
      DecodeError.BadVersion,
      `version ${view.getUint8(2)} of kind ${kind}, this reader knows version ${MESSAGE_VERSION}`,
    );
  }
  if (bytes.length > longest)
    return fail(DecodeError.BadLength, `${bytes.length} bytes, at most ${longest} allowed`);
  const checksumAt = bytes.length - CHECKSUM_BYTES;
  if (view.getUint32(checksumAt, true) !== crc32c(bytes.subarray(0, checksumAt))) {
    return fail(DecodeError.BadChecksum, 'checksum does not match: bytes were damaged on the way');
  }
  const nodeId = view.getBigUint64(4, true).toString(16).padStart(16, '0');
  return { ok: true, view, header: { nodeId, bootId: view.getUint32(12, true) } };
}

/** Opens a message of any kind but samples: those may have grown behind the fields known here. */
export function openSmall(bytes: Uint8Array, kind: Kind, shortest: number): Opened | DecodeFailure {
  return open(bytes, kind, shortest, MAX_MESSAGE_BYTES);
}

/** A message of `length` bytes with its header written; to be finished by `seal`. */
export function begin(kind: Kind, length: number, header: Header): DataView {
  const view = new DataView(new ArrayBuffer(length));
  view.setUint16(0, MAGIC, true);
  view.setUint8(2, MESSAGE_VERSION);
  view.setUint8(3, kind);
  if (!/^[0-9a-f]{16}$/.test(header.nodeId)) {
    throw new RangeError(`node id "${header.nodeId}" is not 16 lower-case hex digits`);
  }
  view.setBigUint64(4, BigInt(`0x${header.nodeId}`), true);
  view.setUint32(HEADER_BYTES - 4, whole(header.bootId, 0, 0xffffffff, 'bootId'), true);
  return view;
}

/** Writes the checksum over everything before it. */
export function seal(view: DataView): Uint8Array {
  const bytes = new Uint8Array(view.buffer, view.byteOffset, view.byteLength);
  const checksumAt = bytes.length - CHECKSUM_BYTES;
  view.setUint32(checksumAt, crc32c(bytes.subarray(0, checksumAt)), true);
  return bytes;
}

/** `value` if it is a whole number within the range; a RangeError that names the field otherwise. */
export function whole(value: number, least: number, most: number, field: string): number {
  if (Number.isInteger(value) && value >= least && value <= most) return value;
  throw new RangeError(`${field} is ${value}, it must be a whole number from ${least} to ${most}`);
}

/** The same for 64-bit counters and clocks. */
export function wide(value: bigint, most: bigint, field: string): bigint {
  if (value >= 0n && value <= most) return value;
  throw new RangeError(`${field} is ${value}, it must be from 0 to ${most}`);
}
