import { ESCAPE, MAX_ORDER, MAX_RICE, PARTITION, PLAIN_CHANNEL, stepUp } from './predictor.ts';

/**
 * Reads predicted samples (SPEC.md, 4.2) from `bytes[start]` to `bytes[end]`, behind which at least four
 * more bytes lie (the checksum): reads of 32 bits may touch them. Null when the bits are not a valid stream.
 *
 * Written for speed, since the station decodes millions of samples a second here: one 32-bit
 * window serves most codes, and the loops keep to 32-bit integers.
 */
export function readPredicted(
  bytes: Uint8Array,
  start: number,
  end: number,
  channelCount: number,
  frameCount: number,
): Int16Array[] | null {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const channels: Int16Array[] = [];
  let at = start;
  for (let channel = 0; channel < channelCount; channel++) {
    if (at >= end) return null;
    const coding = view.getUint8(at++);
    const samples = new Int16Array(frameCount);
    if (coding === PLAIN_CHANNEL) {
      if (end - at < 2 * frameCount) return null;
      for (let i = 0; i < frameCount; i++, at += 2) samples[i] = view.getInt16(at, true);
    } else {
      if (coding > MAX_ORDER || end - at < 2) return null;
      const offset = view.getInt16(at, true);
      const next = readChannel(view, 8 * (at + 2), 8 * end, coding, offset, samples);
      if (next < 0) return null;
      at = next >> 3;
    }
    channels.push(samples);
  }
  return at === end ? channels : null;
}

/** The 32 bits from bit `position` on, of which the upper 25 are sure to be right. */
function bitsAt(view: DataView, position: number): number {
  return view.getInt32(position >> 3) << (position & 7);
}

/** Fills `samples` from the bits at `position`; the position behind them, at a whole byte, or -1. */
function readChannel(
  view: DataView,
  position: number,
  end: number,
  order: number,
  offset: number,
  samples: Int16Array,
): number {
  const reflection = new Int8Array(MAX_ORDER);
  const taps = new Int32Array(MAX_ORDER);
  if (end - position < 6 * order + 4) return -1;
  for (let i = 0; i < order; i++, position += 6) {
    reflection[i] = bitsAt(view, position) >> 26;
    if (reflection[i] === -32) return -1;
  }
  stepUp(reflection, order, taps);

  const count = samples.length;
  let rice = bitsAt(view, position) >>> 28;
  position += 4;
  for (let from = 0; from < count; from += PARTITION) {
    if (from > 0) {
      // 31 zeros would take the parameter out of its range from wherever it was: 25 sure bits, then the rest.
      if (position >= end) return -1;
      let zeros = Math.clz32(bitsAt(view, position));
      if (zeros >= 25) {
        if (position + 24 >= end) return -1;
        zeros = 24 + Math.clz32(bitsAt(view, position + 24));
      }
      position += zeros + 1;
      rice += zeros & 1 ? (zeros + 1) >> 1 : -(zeros >> 1);
      if (rice < 0 || rice > MAX_RICE) return -1;
    }
    const upto = Math.min(from + PARTITION, count);
    for (let i = from; i < upto; i++) {
      if (position >= end) return -1;
      const bits = bitsAt(view, position);
      const zeros = Math.clz32(bits);
      let folded: number;
      if (zeros + rice < ESCAPE) {
        folded = (zeros << rice) | (((bits << (zeros + 1)) >>> 1) >>> (31 - rice));
        position += zeros + 1 + rice;
      } else if (zeros < ESCAPE) {
        position += zeros + 1;
        if (position + rice > end) return -1;
        folded = (zeros << rice) | (bitsAt(view, position) >>> (32 - rice));
        position += rice;
      } else {
        position += ESCAPE;
        if (position + 16 > end) return -1;
        folded = bitsAt(view, position) >>> 16;
        position += 16;
      }
      if (folded > 0xffff) return -1;
      samples[i] = (folded >>> 1) ^ -(folded & 1);
    }
    if (position > end) return -1;
  }
  if (position & 7) {
    const fill = 8 - (position & 7);
    if (bitsAt(view, position) >>> (32 - fill) !== 0) return -1;
    position += fill;
  }
  addPrediction(samples, taps, order, offset);
  return position;
}

/** Turns residuals into samples, in place; storing into 16 bits takes the sum modulo 2^16. */
function addPrediction(samples: Int16Array, taps: Int32Array, order: number, offset: number): void {
  const count = samples.length;
  const warm = Math.min(order, count);
  for (let i = 0; i < warm; i++) {
    let sum = 2048;
    for (let j = 0; j < i; j++) sum = (sum + Math.imul(taps[j]!, samples[i - 1 - j]! - offset)) | 0;
    samples[i] = samples[i]! + offset + (sum >> 12);
  }
  // The offset's share is the same for every sample from here on, so it leaves the inner loop.
  let share = 2048;
  for (let j = 0; j < order; j++) share = (share - Math.imul(taps[j]!, offset)) | 0;
  for (let i = warm; i < count; i++) {
    let sum = share;
    for (let j = 0; j < order; j++) sum = (sum + Math.imul(taps[j]!, samples[i - 1 - j]!)) | 0;
    samples[i] = samples[i]! + offset + (sum >> 12);
  }
}
