import { DecodeError, fail } from './errors.ts';
import {
  CHECKSUM_BYTES,
  Kind,
  MAX_CHANNELS,
  MAX_EXACT,
  MAX_FRAMES,
  MAX_PACKET_BYTES,
  MAX_RATE_MILLI_HZ,
  MAX_SAMPLES,
  MIN_RATE_MILLI_HZ,
  Offset,
} from './layout.ts';
import {
  AXIS_NAMES,
  type CaptureMode,
  type ChannelLayout,
  type DecodeResult,
  Encoding,
  type TimeSource,
} from './packet.ts';
import { readPredicted } from './predicted-decode.ts';
import { open } from './wire.ts';

const SHORTEST = Offset.Channels + 1 + 2 + CHECKSUM_BYTES;

/** Decodes a sample packet. Total: any bytes give a packet or a coded reason, never an exception. */
export function decodeSamplePacket(bytes: Uint8Array): DecodeResult {
  const opened = open(bytes, Kind.Samples, SHORTEST, MAX_PACKET_BYTES);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const bad = (what: string) => fail(DecodeError.BadField, what);

  const channelCount = view.getUint8(Offset.ChannelCount);
  const frameCount = view.getUint16(Offset.FrameCount, true);
  const rateMilliHz = view.getUint32(Offset.NominalRateMilliHz, true);
  const encoding = view.getUint8(Offset.Encoding);
  const timeSource = view.getUint8(Offset.TimeSource);
  const captureMode = view.getUint8(Offset.CaptureMode);
  const firstSample = view.getBigUint64(Offset.FirstSample, true);
  const nodeClockUs = view.getBigUint64(Offset.NodeClockUs, true);
  if (channelCount < 1 || channelCount > MAX_CHANNELS) return bad(`${channelCount} channels`);
  if (frameCount < 1 || frameCount > MAX_FRAMES) return bad(`${frameCount} frames`);
  if (frameCount * channelCount > MAX_SAMPLES) return bad(`${channelCount} x ${frameCount} samples`);
  if (rateMilliHz < MIN_RATE_MILLI_HZ || rateMilliHz > MAX_RATE_MILLI_HZ)
    return bad(`nominal sample rate ${rateMilliHz / 1e3} Hz`);
  if (encoding > Encoding.Predicted) return bad(`unknown encoding ${encoding}`);
  if (timeSource > 2) return bad(`unknown time source ${timeSource}`);
  if (captureMode > 2) return bad(`unknown capture mode ${captureMode}`);
  if (firstSample > MAX_EXACT) return bad(`sample counter ${firstSample}`);
  if (nodeClockUs > MAX_EXACT) return bad(`node clock ${nodeClockUs}`);

  const payloadStart = Offset.Channels + channelCount;
  const payloadEnd = bytes.length - CHECKSUM_BYTES;
  if (payloadStart > payloadEnd) return fail(DecodeError.BadLength, 'ends inside the channel list');
  const channels: ChannelLayout[] = [];
  for (let index = 0; index < channelCount; index++) {
    const code = view.getUint8(Offset.Channels + index);
    const axis = AXIS_NAMES[code & 15];
    if (axis === undefined) return bad(`unknown axis code ${code & 15}`);
    channels.push({ sensor: code >> 4, axis });
  }
  const plainBytes = 2 * channelCount * frameCount;
  if (encoding === Encoding.Int16 && payloadEnd - payloadStart !== plainBytes) {
    return fail(DecodeError.BadLength, `${payloadEnd - payloadStart} bytes of samples, not ${plainBytes}`);
  }
  const samples =
    encoding === Encoding.Int16
      ? readPlain(view, payloadStart, channelCount, frameCount)
      : readPredicted(bytes, payloadStart, payloadEnd, channelCount, frameCount);
  if (samples === null)
    return fail(DecodeError.BadPayload, 'the compressed samples are not a valid bit stream');
  return {
    ok: true,
    packet: {
      ...header,
      sequence: view.getUint32(Offset.Sequence, true),
      firstSample,
      nodeClockUs,
      timeSource: timeSource as TimeSource,
      captureMode: captureMode as CaptureMode,
      nominalRateHz: rateMilliHz / 1e3,
      fullScaleMPerS2: view.getUint32(Offset.FullScaleUmPerS2, true) / 1e6,
      flags: view.getUint16(Offset.Flags, true),
      channels,
      samples,
    },
  };
}

function readPlain(view: DataView, start: number, channelCount: number, frameCount: number): Int16Array[] {
  const samples: Int16Array[] = [];
  for (let channel = 0; channel < channelCount; channel++) {
    const values = new Int16Array(frameCount);
    let at = start + 2 * channel;
    for (let frame = 0; frame < frameCount; frame++, at += 2 * channelCount)
      values[frame] = view.getInt16(at, true);
    samples.push(values);
  }
  return samples;
}
