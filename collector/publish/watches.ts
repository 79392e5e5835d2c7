/** How long one request to watch a sensor holds. */
export const LEASE_MS = 10_000;
/** Sensors watched at once; further requests are not served until a lease ends. */
const MAX_WATCHED = 64;

/** Which sensors somebody watches: each request holds for ten seconds and is renewed by whoever watches. */
export interface Watches {
  /** `key`: node id, slash, sensor. */
  renew(key: string, nowMs: number): void;
  isWatched(key: string, nowMs: number): boolean;
}

export function createWatches(): Watches {
  const until = new Map<string, number>();
  return {
    renew(key, nowMs) {
      if (!until.has(key) && until.size >= MAX_WATCHED) {
        for (const [other, end] of until) if (end < nowMs) until.delete(other);
        if (until.size >= MAX_WATCHED) return;
      }
      until.set(key, nowMs + LEASE_MS);
    },
    isWatched(key, nowMs) {
      const end = until.get(key);
      if (end === undefined) return false;
      if (end >= nowMs) return true;
      until.delete(key);
      return false;
    },
  };
}
