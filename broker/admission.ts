/** Counts open connections, in all and for each address. */
export class Admission {
  readonly #max: number;
  readonly #maxPerAddress: number;
  readonly #open = new Map<string, number>();
  #total = 0;

  constructor(max: number, maxPerAddress: number) {
    this.#max = max;
    this.#maxPerAddress = maxPerAddress;
  }

  get open(): number {
    return this.#total;
  }

  /** Null and counted, or why not. What was let in must `leave` once. */
  enter(address: string): 'total' | 'address' | null {
    const here = this.#open.get(address) ?? 0;
    if (this.#total >= this.#max) return 'total';
    if (here >= this.#maxPerAddress) return 'address';
    this.#open.set(address, here + 1);
    this.#total++;
    return null;
  }

  leave(address: string): void {
    const here = (this.#open.get(address) ?? 1) - 1;
    if (here > 0) this.#open.set(address, here);
    else this.#open.delete(address);
    this.#total--;
  }
}

/** Address of the other end, the same for a client that comes by IPv4 to an IPv6 listener. */
export function addressOf(socket: { remoteAddress?: string | undefined }): string {
  return (socket.remoteAddress ?? 'unknown').replace(/^::ffff:/, '');
}
