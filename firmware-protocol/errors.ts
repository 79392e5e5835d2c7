/** Error codes of the protocol, the same names and numbers in C (c/clampline.h) and in SPEC.md. Never reused. */
export const ErrorCode = {
  /** Fewer bytes than the shortest message of that kind. */
  TooShort: -1,
  /** Does not begin with "CL". */
  BadMagic: -2,
  /** A version of this kind that the reader does not know. */
  BadVersion: -3,
  /** Another kind of message than the topic promises. */
  BadKind: -4,
  /** Checksum does not match: bytes were damaged on the way. */
  BadChecksum: -5,
  /** Longer than allowed, or not as long as the fields say. */
  BadLength: -6,
  /** A field holds a value outside its range. */
  BadField: -7,
  /** The compressed samples are not a valid bit stream. */
  BadPayload: -8,
  /** The caller's buffer is too small (C only). */
  NoSpace: -9,
  /** The caller passed a value outside its range (C only). */
  BadArgument: -10,
  /** The queue holds nothing (C only). */
  Empty: -11,
  /** The message is addressed to another node, or to an earlier boot. */
  NotForUs: -12,
  /** An answer to a question that is no longer open. */
  Stale: -13,
  /** A hardware function reported a failure. */
  Hardware: -14,
  /** The node cannot do what a command asks. */
  Unsupported: -15,
  /** Memory that should hold a queue does not. */
  Corrupt: -16,
} as const;
export type ErrorCode = (typeof ErrorCode)[keyof typeof ErrorCode];

/** Why bytes are no message: the codes a decoder can return. */
export const DecodeError = {
  TooShort: ErrorCode.TooShort,
  BadMagic: ErrorCode.BadMagic,
  BadVersion: ErrorCode.BadVersion,
  BadKind: ErrorCode.BadKind,
  BadChecksum: ErrorCode.BadChecksum,
  BadLength: ErrorCode.BadLength,
  BadField: ErrorCode.BadField,
  BadPayload: ErrorCode.BadPayload,
} as const;
export type DecodeError = (typeof DecodeError)[keyof typeof DecodeError];

export type DecodeFailure = { ok: false; code: DecodeError; reason: string };
export type Decoded<T> = { ok: true; message: T } | DecodeFailure;

export function fail(code: DecodeError, reason: string): DecodeFailure {
  return { ok: false, code, reason };
}
