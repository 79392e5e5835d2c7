import {
  CHECKSUM_BYTES,
  Kind,
  MAX_CHANNELS,
  MAX_EXACT,
  MAX_FRAMES,
  MAX_RATE_MILLI_HZ,
  MAX_SAMPLES,
  MIN_RATE_MILLI_HZ,
  Offset,
} from './layout.ts';
import { AXIS_NAMES, Encoding, type SamplePacket } from './packet.ts';
import { writePredicted } from './predicted-encode.ts';
import { begin, seal, whole, wide } from './wire.ts';

/**
 * Encodes a sample packet: predicted samples where they take fewer bytes, else plain ones; always plain ones
 * when asked (quicker). Throws RangeError, naming the field, when one does not fit its place on the wire.
 */
export function encodeSamplePacket(
  packet: SamplePacket,
  choice: 'smallest' | 'plain' = 'smallest',
): Uint8Array {
  const channelCount = whole(packet.channels.length, 1, MAX_CHANNELS, 'number of channels');
  const frameCount = whole(packet.samples[0]?.length ?? 0, 1, MAX_FRAMES, 'number of frames');
  if (packet.samples.length !== channelCount) throw new RangeError('one sample array for each channel');
  if (packet.samples.some((s) => s.length !== frameCount)) throw new RangeError('channels differ in length');
  whole(channelCount * frameCount, 1, MAX_SAMPLES, 'samples in all channels');

  const payloadStart = Offset.Channels + channelCount;
  const predicted = choice === 'plain' ? null : writePredicted(packet.samples);
  const payloadBytes = predicted?.length ?? 2 * channelCount * frameCount;
  const length = payloadStart + payloadBytes + CHECKSUM_BYTES;
  const view = begin(Kind.Samples, length, packet);
  const rateMilliHz = Math.round(packet.nominalRateHz * 1e3);
  const fullScale = Math.round(packet.fullScaleMPerS2 * 1e6);
  view.setUint32(Offset.Sequence, whole(packet.sequence, 0, 0xffffffff, 'sequence'), true);
  view.setBigUint64(Offset.FirstSample, wide(packet.firstSample, MAX_EXACT, 'firstSample'), true);
  view.setBigUint64(Offset.NodeClockUs, wide(packet.nodeClockUs, MAX_EXACT, 'nodeClockUs'), true);
  view.setUint32(
    Offset.NominalRateMilliHz,
    whole(rateMilliHz, MIN_RATE_MILLI_HZ, MAX_RATE_MILLI_HZ, 'nominal rate in mHz'),
    true,
  );
  view.setUint32(Offset.FullScaleUmPerS2, whole(fullScale, 0, 0xffffffff, 'full scale in um/s2'), true);
  view.setUint16(Offset.FrameCount, frameCount, true);
  view.setUint8(Offset.ChannelCount, channelCount);
  view.setUint8(Offset.Encoding, predicted === null ? Encoding.Int16 : Encoding.Predicted);
  view.setUint8(Offset.TimeSource, whole(packet.timeSource, 0, 2, 'timeSource'));
  view.setUint8(Offset.CaptureMode, whole(packet.captureMode, 0, 2, 'captureMode'));
  view.setUint16(Offset.Flags, whole(packet.flags, 0, 0xffff, 'flags'), true);
  packet.channels.forEach(({ sensor, axis }, index) => {
    const code = (whole(sensor, 0, 15, 'sensor') << 4) | whole(AXIS_NAMES.indexOf(axis), 0, 3, 'axis');
    view.setUint8(Offset.Channels + index, code);
  });
  if (predicted === null) writePlain(view, payloadStart, packet.samples);
  else new Uint8Array(view.buffer).set(predicted, payloadStart);
  return seal(view);
}

function writePlain(view: DataView, start: number, samples: readonly Int16Array[]): void {
  let at = start;
  for (let frame = 0; frame < samples[0]!.length; frame++) {
    for (const channel of samples) {
      view.setInt16(at, channel[frame]!, true);
      at += 2;
    }
  }
}
