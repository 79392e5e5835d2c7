/** Numbers of the wire format (SPEC.md). Little-endian throughout. */

export const MAGIC = 0x4c43; // "CL" read as a little-endian word

/** Kinds of message; each has a version of its own, all 1 today. */
export const Kind = {
  Samples: 1,
  Status: 2,
  TimeRequest: 3,
  Event: 4,
  TimeAnswer: 16,
  Command: 17,
  Journaled: 18,
} as const;
export type Kind = (typeof Kind)[keyof typeof Kind];

export const MESSAGE_VERSION = 1;
/** Magic, version, kind, node id, boot id: the same in every message. */
export const HEADER_BYTES = 16;
export const CHECKSUM_BYTES = 4;

/** Byte offsets of the sample packet's header. */
export const Offset = {
  Magic: 0,
  Version: 2,
  Kind: 3,
  NodeId: 4,
  BootId: 12,
  Sequence: 16,
  FirstSample: 20,
  NodeClockUs: 28,
  NominalRateMilliHz: 36,
  FullScaleUmPerS2: 40,
  FrameCount: 44,
  ChannelCount: 46,
  Encoding: 47,
  TimeSource: 48,
  CaptureMode: 49,
  Flags: 50,
  Channels: 52,
} as const;

export const MAX_CHANNELS = 16;
export const MAX_FRAMES = 8192;
/** Frames times channels in one packet: bounds what one message can make a reader allocate (128 KiB). */
export const MAX_SAMPLES = 65_536;
/** Longest sample packet: header, 16 channels, 65,536 plain samples, checksum. */
export const MAX_PACKET_BYTES = Offset.Channels + MAX_CHANNELS + 2 * MAX_SAMPLES + CHECKSUM_BYTES;
/** Longest message of every other kind: known fields need far less; the rest is room to grow. */
export const MAX_MESSAGE_BYTES = 512;

export const MIN_RATE_MILLI_HZ = 100;
export const MAX_RATE_MILLI_HZ = 200_000_000;
/** Counters and clocks stay exact as a double, so no reader has to fear rounding. */
export const MAX_EXACT = 2n ** 53n - 1n;
