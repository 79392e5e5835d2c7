/** What a client has sent, as far as its framing tells. */
export interface FrameEvents {
  /** The last byte of a PUBLISH has arrived. */
  publish(): void;
}

const CONNECT = 1;
const PUBLISH = 3;

/**
 * Follows the fixed headers of MQTT packets (MQTT 3.1.1, sections 2.2.1 and 2.2.3) through a byte stream, without keeping
 * any of it. The parser behind it would collect a packet of any length, up to 256 MiB, before anyone could refuse it.
 */
export class FrameLengths {
  readonly #maxConnectBytes: number;
  readonly #maxPacketBytes: number;
  readonly #events: FrameEvents;
  #type = 0;
  #length = 0;
  #lengthDigits = 0;
  #inBody = false;
  #first = true;

  constructor(limits: { maxConnectBytes: number; maxPacketBytes: number }, events: FrameEvents) {
    this.#maxConnectBytes = limits.maxConnectBytes;
    this.#maxPacketBytes = limits.maxPacketBytes;
    this.#events = events;
  }

  /** Null, or why the client has to go. */
  feed(chunk: Uint8Array): string | null {
    for (let at = 0; at < chunk.length; ) {
      if (this.#inBody) {
        const step = Math.min(this.#length, chunk.length - at);
        at += step;
        this.#length -= step;
        if (this.#length === 0) this.#endOfPacket();
        continue;
      }
      const byte = chunk[at++]!;
      if (this.#type === 0) {
        this.#type = byte >> 4;
        if (this.#type === 0) return 'not MQTT: packet type 0';
        if (this.#first && this.#type !== CONNECT) return 'not MQTT 3.1.1: the first packet is no CONNECT';
        continue;
      }
      this.#length += (byte & 127) * 128 ** this.#lengthDigits++;
      if (byte & 128) {
        if (this.#lengthDigits === 4) return 'not MQTT: length of a packet has more than four digits';
        continue;
      }
      const limit = this.#first ? this.#maxConnectBytes : this.#maxPacketBytes;
      if (this.#length > limit) return `a packet of ${this.#length} bytes, at most ${limit} are taken`;
      this.#inBody = true;
      if (this.#length === 0) this.#endOfPacket();
    }
    return null;
  }

  #endOfPacket(): void {
    if (this.#type === PUBLISH) this.#events.publish();
    this.#type = 0;
    this.#length = 0;
    this.#lengthDigits = 0;
    this.#inBody = false;
    this.#first = false;
  }
}
