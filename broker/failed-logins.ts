const FREE_FAILURES = 3;
const FIRST_DELAY_MS = 250;
const MAX_DELAY_MS = 10_000;
const FORGET_AFTER_MS = 600_000;
const MAX_ADDRESSES = 1000;

/**
 * How long to hold back the answer to a failed login: longer with each failure from the same address. Only failures are
 * slowed, so that a node with a wrong password does not keep out the others behind the same router.
 */
export class FailedLogins {
  readonly #failures = new Map<string, { count: number; atMs: number }>();

  /** Counts a failure and returns the delay for its answer in milliseconds. */
  failed(address: string, nowMs: number): number {
    const before = this.#failures.get(address);
    const count = before !== undefined && nowMs - before.atMs < FORGET_AFTER_MS ? before.count + 1 : 1;
    this.#failures.delete(address);
    if (this.#failures.size >= MAX_ADDRESSES) this.#failures.delete(this.#failures.keys().next().value!);
    this.#failures.set(address, { count, atMs: nowMs });
    const beyond = count - FREE_FAILURES;
    return beyond <= 0 ? 0 : Math.min(MAX_DELAY_MS, FIRST_DELAY_MS * 2 ** Math.min(beyond - 1, 10));
  }
}
