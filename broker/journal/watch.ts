import { type FSWatcher, watch } from 'node:fs';

/** Some file systems (network shares, containers on other systems) report no changes: then this is the pace. */
const POLL_MS = 50;

/** Tells when a folder may have changed. May say so too often; at the latest every 50 ms. */
export class JournalWatch {
  readonly #dir: string;
  #watcher: FSWatcher | null = null;
  #tried = false;
  readonly #waiting = new Set<() => void>();

  constructor(dir: string) {
    this.#dir = dir;
  }

  /** Resolves at the next change, after `limitMs` or the polling pace, or on abort. */
  next(limitMs: number, signal?: AbortSignal): Promise<void> {
    this.#start();
    return new Promise((resolve) => {
      const done = () => {
        clearTimeout(timer);
        signal?.removeEventListener('abort', done);
        this.#waiting.delete(done);
        resolve();
      };
      const timer = setTimeout(done, Math.min(limitMs, POLL_MS));
      signal?.addEventListener('abort', done);
      this.#waiting.add(done);
    });
  }

  close(): void {
    this.#watcher?.close();
    this.#tried = true;
    for (const done of this.#waiting) done();
  }

  #start(): void {
    if (this.#tried) return;
    this.#tried = true;
    try {
      this.#watcher = watch(this.#dir, { persistent: false }, () => {
        for (const done of this.#waiting) done();
      });
      this.#watcher.on('error', () => this.#watcher?.close());
    } catch {
      // Polling alone does it.
    }
  }
}
