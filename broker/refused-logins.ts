import { NODE_ID_PATTERN } from '../firmware-protocol/index.ts';

/** Somebody who was not let in. */
export interface RefusedLogin {
  /** The node it says it is; null when the name is no node's: people type passwords into that field too. */
  nodeId: string | null;
  address: string;
  /** Attempts since the start, and the newest of them. */
  attempts: number;
  lastMs: number;
}

const MOST_KEPT = 50;

/** Who was refused lately, so that a person who sets up a node sees it knock. */
export class RefusedLogins {
  readonly #known = new Map<string, RefusedLogin>();

  add(username: string | undefined, address: string, nowMs: number): void {
    const nodeId = username !== undefined && NODE_ID_PATTERN.test(username) ? username : null;
    const key = `${nodeId} ${address}`;
    const attempts = (this.#known.get(key)?.attempts ?? 0) + 1;
    // Deleted first, so that the map stays in order of the newest attempt.
    this.#known.delete(key);
    if (this.#known.size >= MOST_KEPT) this.#known.delete(this.#known.keys().next().value!);
    this.#known.set(key, { nodeId, address, attempts, lastMs: nowMs });
  }

  /** Newest first. */
  all(): RefusedLogin[] {
    return [...this.#known.values()].reverse();
  }
}
