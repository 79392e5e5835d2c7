/** Byte offsets of the sample packet's header (SPEC.md, "Sample packet"). Little-endian throughout. */
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

export const MAGIC = 0x4c43; // "CL" read as a little-endian word
export const KIND_SAMPLES = 1;
export const CHECKSUM_BYTES = 4;
export const MAX_CHANNELS = 16;
export const MAX_FRAMES = 8192;
/** Largest packet a node may publish; the broker refuses longer messages before it buffers them. */
export const MAX_PACKET_BYTES = 262_144;
