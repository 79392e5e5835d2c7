/** A message on its way to the disk. */
export interface Pending {
  topic: Buffer;
  payload: Uint8Array;
  arrivedAtUs: number;
  /** Size of its record. */
  bytes: number;
  resolve(position: number): void;
  reject(error: Error): void;
}

/**
 * What waits to be written, bounded by bytes. Above the bound a message waits outside until what was accepted before
 * it is on the disk: whoever appends is held up, and with it the client that sends.
 */
export class PendingQueue {
  readonly #capBytes: number;
  #accepted: Pending[] = [];
  #outside: Pending[] = [];
  #bytes = 0;

  constructor(capBytes: number) {
    this.#capBytes = capBytes;
  }

  /** Bytes accepted and not yet released; what waits outside is not counted. */
  get bytes(): number {
    return this.#bytes;
  }

  get waitingOutside(): number {
    return this.#outside.length;
  }

  get empty(): boolean {
    return this.#accepted.length === 0;
  }

  add(entry: Pending): void {
    if (this.#outside.length === 0 && this.#fits(entry)) this.#accept(entry);
    else this.#outside.push(entry);
  }

  /** Takes the oldest messages, at least one, together at most `maxBytes` long. They stay counted until `release`. */
  takeBatch(maxBytes: number): Pending[] {
    let count = 0;
    let bytes = 0;
    for (const entry of this.#accepted) {
      if (count > 0 && bytes + entry.bytes > maxBytes) break;
      count++;
      bytes += entry.bytes;
    }
    return this.#accepted.splice(0, count);
  }

  /** Gives the room of a written batch free and lets in what waits outside, in order. */
  release(batch: readonly Pending[]): void {
    for (const entry of batch) this.#bytes -= entry.bytes;
    let count = 0;
    while (count < this.#outside.length && this.#fits(this.#outside[count]!)) {
      this.#accept(this.#outside[count++]!);
    }
    this.#outside.splice(0, count);
  }

  /** Empties the queue, rejecting all that is in it. */
  rejectAll(error: Error): void {
    for (const entry of [...this.#accepted, ...this.#outside]) entry.reject(error);
    this.#accepted = [];
    this.#outside = [];
    this.#bytes = 0;
  }

  /** One message longer than the whole bound is let in alone. */
  #fits(entry: Pending): boolean {
    return this.#bytes === 0 || this.#bytes + entry.bytes <= this.#capBytes;
  }

  #accept(entry: Pending): void {
    this.#accepted.push(entry);
    this.#bytes += entry.bytes;
  }
}
