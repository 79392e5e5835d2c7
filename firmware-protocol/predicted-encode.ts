import { analyse } from './analyse.ts';
import { ESCAPE, MAX_RICE, PARTITION, PLAIN_CHANNEL } from './predictor.ts';

/** Predicted samples of all channels (SPEC.md, 4.2); null when plain ones take no more bytes. */
export function writePredicted(samples: readonly Int16Array[]): Uint8Array | null {
  const plainBytes = samples.reduce((bytes, channel) => bytes + 2 * channel.length, 0);
  const out = new BitWriter(plainBytes + samples.length + 8);
  for (const channel of samples) {
    const start = out.byteLength;
    writeChannel(out, channel);
    if (out.byteLength - start > 2 * channel.length + 1) {
      out.cut(start);
      writePlain(out, channel);
    }
  }
  return out.byteLength < plainBytes ? out.bytes.slice(0, out.byteLength) : null;
}

function writePlain(out: BitWriter, channel: Int16Array): void {
  out.put(PLAIN_CHANNEL, 8);
  for (const value of channel) putInt16(out, value);
}

function putInt16(out: BitWriter, value: number): void {
  out.put(value & 255, 8);
  out.put((value >> 8) & 255, 8);
}

function writeChannel(out: BitWriter, samples: Int16Array): void {
  const { offset, order, reflection, taps } = analyse(samples);
  out.put(order, 8);
  putInt16(out, offset);
  for (let i = 0; i < order; i++) out.put(reflection[i]! & 63, 6);
  const folded = new Uint16Array(samples.length);
  for (let i = 0; i < samples.length; i++) {
    let sum = 2048;
    const known = Math.min(i, order);
    for (let j = 0; j < known; j++) sum = (sum + Math.imul(taps[j]!, samples[i - 1 - j]! - offset)) | 0;
    const residual = ((samples[i]! - offset - (sum >> 12)) << 16) >> 16;
    folded[i] = (residual << 1) ^ (residual >> 31);
  }
  let before = -1;
  for (let from = 0; from < folded.length; from += PARTITION)
    before = writePartition(out, folded.subarray(from, from + PARTITION), before);
  out.flush();
}

function writePartition(out: BitWriter, folded: Uint16Array, before: number): number {
  const rice = chooseRice(folded);
  if (before < 0) out.put(rice, 4);
  else putUnary(out, rice > before ? 2 * (rice - before) - 1 : 2 * (before - rice));
  for (const value of folded) {
    const zeros = value >> rice;
    if (zeros < ESCAPE) {
      putUnary(out, zeros);
      out.put(value & ((1 << rice) - 1), rice);
    } else {
      out.put(0, ESCAPE);
      out.put(value, 16);
    }
  }
  return rice;
}

/** The parameter that fits a geometric distribution of this mean (R. F. Rice, JPL Publication 79-22). */
function chooseRice(folded: Uint16Array): number {
  let sum = 0;
  for (const value of folded) sum += value;
  const ideal = (sum / folded.length) * Math.LN2;
  let rice = 0;
  while (rice < MAX_RICE && 1.4 * 2 ** rice < ideal) rice++;
  return rice;
}

function putUnary(out: BitWriter, zeros: number): void {
  if (zeros > 16) out.put(0, zeros - 16);
  out.put(1, Math.min(zeros, 16) + 1);
}

/** Bits, most significant first, into a buffer that grows when a channel is worse than plain. */
class BitWriter {
  bytes: Uint8Array;
  byteLength = 0;
  private pending = 0;
  private held = 0;

  constructor(expected: number) {
    this.bytes = new Uint8Array(expected);
  }

  /** Appends the low `count` bits of `value`, at most 24. */
  put(value: number, count: number): void {
    this.pending = (this.pending << count) | value;
    this.held += count;
    while (this.held >= 8) {
      this.held -= 8;
      if (this.byteLength === this.bytes.length) {
        const longer = new Uint8Array(2 * this.bytes.length);
        longer.set(this.bytes);
        this.bytes = longer;
      }
      this.bytes[this.byteLength++] = this.pending >>> this.held;
    }
    this.pending &= (1 << this.held) - 1;
  }

  flush(): void {
    if (this.held > 0) this.put(0, 8 - this.held);
  }

  /** Forgets everything behind byte `length`. */
  cut(length: number): void {
    this.byteLength = length;
  }
}
