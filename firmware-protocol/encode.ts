import { crc32c } from './checksum.ts';
import { CHECKSUM_BYTES, KIND_SAMPLES, MAGIC, MAX_CHANNELS, MAX_FRAMES, Offset } from './layout.ts';
import { AXIS_NAMES, Encoding, PACKET_VERSION, type SamplePacket } from './packet.ts';

/** Encodes a sample packet. Throws RangeError when a field does not fit its place on the wire. */
export function encodeSamplePacket(packet: SamplePacket): Uint8Array {
  const channelCount = packet.channels.length;
  const frameCount = packet.samples[0]?.length ?? 0;
  if (channelCount < 1 || channelCount > MAX_CHANNELS) throw new RangeError(`${channelCount} channels`);
  if (packet.samples.length !== channelCount) throw new RangeError('one sample array for each channel');
  if (packet.samples.some((s) => s.length !== frameCount)) throw new RangeError('channels differ in length');
  if (frameCount < 1 || frameCount > MAX_FRAMES) throw new RangeError(`${frameCount} frames in a packet`);

  const payloadStart = Offset.Channels + channelCount;
  const bytes = new Uint8Array(payloadStart + 2 * channelCount * frameCount + CHECKSUM_BYTES);
  const view = new DataView(bytes.buffer);
  view.setUint16(Offset.Magic, MAGIC, true);
  view.setUint8(Offset.Version, PACKET_VERSION);
  view.setUint8(Offset.Kind, KIND_SAMPLES);
  view.setBigUint64(Offset.NodeId, BigInt(`0x${packet.nodeId}`), true);
  view.setUint32(Offset.BootId, packet.bootId, true);
  view.setUint32(Offset.Sequence, packet.sequence, true);
  view.setBigUint64(Offset.FirstSample, packet.firstSample, true);
  view.setBigUint64(Offset.NodeClockUs, packet.nodeClockUs, true);
  view.setUint32(Offset.NominalRateMilliHz, Math.round(packet.nominalRateHz * 1e3), true);
  view.setUint32(Offset.FullScaleUmPerS2, Math.round(packet.fullScaleMPerS2 * 1e6), true);
  view.setUint16(Offset.FrameCount, frameCount, true);
  view.setUint8(Offset.ChannelCount, channelCount);
  view.setUint8(Offset.Encoding, Encoding.Int16);
  view.setUint8(Offset.TimeSource, packet.timeSource);
  view.setUint8(Offset.CaptureMode, packet.captureMode);
  view.setUint16(Offset.Flags, packet.flags, true);
  packet.channels.forEach((channel, index) => {
    view.setUint8(Offset.Channels + index, (channel.sensor << 4) | AXIS_NAMES.indexOf(channel.axis));
  });
  let at = payloadStart;
  for (let frame = 0; frame < frameCount; frame++) {
    for (const channel of packet.samples) {
      view.setInt16(at, channel[frame]!, true);
      at += 2;
    }
  }
  view.setUint32(at, crc32c(bytes.subarray(0, at)), true);
  return bytes;
}
