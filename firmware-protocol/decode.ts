import { crc32c } from './checksum.ts';
import { CHECKSUM_BYTES, KIND_SAMPLES, MAGIC, MAX_CHANNELS, MAX_FRAMES, Offset } from './layout.ts';
import {
  AXIS_NAMES,
  type CaptureMode,
  type ChannelLayout,
  DecodeError,
  type DecodeResult,
  Encoding,
  PACKET_VERSION,
  type TimeSource,
} from './packet.ts';

const SHORTEST = Offset.Channels + 1 + 2 + CHECKSUM_BYTES;

function fail(code: DecodeError, reason: string): DecodeResult {
  return { ok: false, code, reason };
}

/** Decodes a sample packet. Total: any bytes give a packet or a coded reason, never an exception. */
export function decodeSamplePacket(bytes: Uint8Array): DecodeResult {
  if (bytes.length < SHORTEST)
    return fail(DecodeError.TooShort, `${bytes.length} bytes, at least ${SHORTEST} needed`);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (view.getUint16(Offset.Magic, true) !== MAGIC)
    return fail(DecodeError.BadMagic, 'does not begin with "CL"');
  const version = view.getUint8(Offset.Version);
  if (version !== PACKET_VERSION) {
    return fail(DecodeError.BadVersion, `packet version ${version}, this station reads ${PACKET_VERSION}`);
  }
  const kind = view.getUint8(Offset.Kind);
  if (kind !== KIND_SAMPLES) return fail(DecodeError.BadKind, `packet kind ${kind} is not a sample packet`);
  const checksumAt = bytes.length - CHECKSUM_BYTES;
  if (view.getUint32(checksumAt, true) !== crc32c(bytes.subarray(0, checksumAt))) {
    return fail(DecodeError.BadChecksum, 'checksum does not match: bytes were damaged on the way');
  }

  const channelCount = view.getUint8(Offset.ChannelCount);
  const frameCount = view.getUint16(Offset.FrameCount, true);
  if (channelCount < 1 || channelCount > MAX_CHANNELS)
    return fail(DecodeError.BadField, `${channelCount} channels`);
  if (frameCount < 1 || frameCount > MAX_FRAMES) return fail(DecodeError.BadField, `${frameCount} frames`);
  const nominalRateHz = view.getUint32(Offset.NominalRateMilliHz, true) / 1e3;
  if (nominalRateHz === 0) return fail(DecodeError.BadField, 'nominal sample rate is 0');
  if (view.getUint8(Offset.Encoding) !== Encoding.Int16) {
    return fail(DecodeError.BadField, `unknown encoding ${view.getUint8(Offset.Encoding)}`);
  }
  const timeSource = view.getUint8(Offset.TimeSource);
  const captureMode = view.getUint8(Offset.CaptureMode);
  if (timeSource > 2) return fail(DecodeError.BadField, `unknown time source ${timeSource}`);
  if (captureMode > 2) return fail(DecodeError.BadField, `unknown capture mode ${captureMode}`);

  const payloadStart = Offset.Channels + channelCount;
  const expected = payloadStart + 2 * channelCount * frameCount + CHECKSUM_BYTES;
  if (bytes.length !== expected) {
    return fail(
      DecodeError.BadLength,
      `${bytes.length} bytes, ${channelCount} x ${frameCount} samples need ${expected}`,
    );
  }
  const channels: ChannelLayout[] = [];
  for (let index = 0; index < channelCount; index++) {
    const code = view.getUint8(Offset.Channels + index);
    const axis = AXIS_NAMES[code & 15];
    if (axis === undefined) return fail(DecodeError.BadField, `unknown axis code ${code & 15}`);
    channels.push({ sensor: code >> 4, axis });
  }
  const samples = channels.map(() => new Int16Array(frameCount));
  let at = payloadStart;
  for (let frame = 0; frame < frameCount; frame++) {
    for (const channel of samples) {
      channel[frame] = view.getInt16(at, true);
      at += 2;
    }
  }
  return {
    ok: true,
    packet: {
      nodeId: view.getBigUint64(Offset.NodeId, true).toString(16).padStart(16, '0'),
      bootId: view.getUint32(Offset.BootId, true),
      sequence: view.getUint32(Offset.Sequence, true),
      firstSample: view.getBigUint64(Offset.FirstSample, true),
      nodeClockUs: view.getBigUint64(Offset.NodeClockUs, true),
      timeSource: timeSource as TimeSource,
      captureMode: captureMode as CaptureMode,
      nominalRateHz,
      fullScaleMPerS2: view.getUint32(Offset.FullScaleUmPerS2, true) / 1e6,
      flags: view.getUint16(Offset.Flags, true),
      channels,
      samples,
    },
  };
}
