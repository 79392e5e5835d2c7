const MAX_KEYS = 1000;

/** Lets one message a minute through for each cause, so that one broken node cannot fill the log. */
export class LogLimiter {
  readonly #everyMs: number;
  readonly #seen = new Map<string, { atMs: number; held: number }>();

  constructor(everyMs = 60_000) {
    this.#everyMs = everyMs;
  }

  /** Calls `write` with a note of how many were held back, or holds this one back. */
  limit(cause: string, write: (note: string) => void): void {
    const now = Date.now();
    const seen = this.#seen.get(cause);
    if (seen !== undefined && now - seen.atMs < this.#everyMs) {
      seen.held++;
      return;
    }
    this.#seen.delete(cause);
    // Oldest first: with more causes than are remembered, the one not heard of for longest is forgotten.
    if (this.#seen.size >= MAX_KEYS) this.#seen.delete(this.#seen.keys().next().value!);
    this.#seen.set(cause, { atMs: now, held: 0 });
    write(seen !== undefined && seen.held > 0 ? ` (${seen.held} more since the last such message)` : '');
  }
}
