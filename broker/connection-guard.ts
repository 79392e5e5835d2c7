import type { Socket } from 'node:net';
import { FrameLengths } from './frame-lengths.ts';

export interface GuardLimits {
  maxConnectBytes: number;
  maxPacketBytes: number;
  /** While messages of this many bytes are being stored, no more are taken in. */
  maxInHandBytes: number;
}

/**
 * Stands where the bytes of a connection come from the system, before they wait in any buffer:
 *
 * - It cuts the connection before an overlong packet is collected.
 * - It notes when each PUBLISH arrived, so that waiting for earlier ones to be stored does not enter the time exchange.
 * - It takes no more in while too much is being stored. MQTT has no other way to slow a client down, and aedes alone
 *   reads on: a full disk would fill the memory.
 *
 * `push` is the method by which every Node stream hands itself new bytes, for TLS the decrypted ones; an answer of false
 * makes the system stop reading, until the stream is empty and asks again.
 */
export class ConnectionGuard {
  readonly #socket: Socket;
  readonly #push: (chunk: Buffer | null) => boolean;
  readonly #maxInHandBytes: number;
  readonly #nowUs: () => number;
  readonly #arrivedUs: number[] = [];
  /** What came although reading had been stopped: a chunk or two, and the end. */
  readonly #kept: (Buffer | null)[] = [];
  #inHandBytes = 0;

  constructor(socket: Socket, limits: GuardLimits, nowUs: () => number, onCut: (reason: string) => void) {
    this.#socket = socket;
    this.#push = socket.push.bind(socket);
    this.#maxInHandBytes = limits.maxInHandBytes;
    this.#nowUs = nowUs;
    const frames = new FrameLengths(limits, { publish: () => this.#arrivedUs.push(nowUs()) });
    let cut = false;
    socket.push = (chunk: Buffer | null) => {
      if (cut) return false;
      const problem = chunk === null ? null : frames.feed(chunk);
      if (problem === null) return this.#takeIn(chunk);
      cut = true;
      onCut(problem);
      socket.destroy();
      return false;
    };
  }

  /** When the oldest PUBLISH not yet asked about had arrived whole: Unix microseconds. */
  takeArrivalUs(): number {
    return this.#arrivedUs.shift() ?? this.#nowUs();
  }

  /** A message of this size is being stored from now on. */
  inHand(bytes: number): void {
    this.#inHandBytes += bytes;
  }

  /** It is stored. */
  done(bytes: number): void {
    this.#inHandBytes -= bytes;
    if (this.#socket.destroyed) this.#kept.length = 0;
    while (this.#kept.length > 0 && !this.#full) this.#push(this.#kept.shift()!);
  }

  get #full(): boolean {
    return this.#inHandBytes >= this.#maxInHandBytes;
  }

  #takeIn(chunk: Buffer | null): boolean {
    if (this.#kept.length === 0 && !this.#full) return this.#push(chunk);
    this.#kept.push(chunk);
    return false;
  }
}
