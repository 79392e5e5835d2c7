import { reasonOf, systemCode } from '../errors.ts';
import type { Log } from '../log.ts';

/** `waiting`: the disk refuses to take what was appended. Nothing is lost or acknowledged; it is tried again. */
export type JournalState =
  | { state: 'ready' }
  | { state: 'waiting'; code: string; reason: string; sinceMs: number };

const REMIND_EVERY_MS = 60_000;

const WHAT_TO_DO: Record<string, string> = {
  ENOSPC: 'The disk is full: free some space.',
  EDQUOT: 'The account has used up its disk quota: free some space.',
  EROFS: 'The disk has become read-only, often after an error: check it.',
  EIO: 'The disk reports an error: check it and its cable, and replace it if need be.',
};

/** Whether the disk takes what is written, told to whoever asks and, when it changes, to the log. */
export class Readiness {
  readonly #dir: string;
  readonly #log: Log;
  #state: JournalState = { state: 'ready' };
  #saidMs = 0;

  constructor(dir: string, log: Log) {
    this.#dir = dir;
    this.#log = log;
  }

  get state(): JournalState {
    return this.#state;
  }

  failed(error: unknown): void {
    const code = systemCode(error) || 'UNKNOWN';
    const reason = reasonOf(error);
    const now = Date.now();
    const sinceMs = this.#state.state === 'waiting' ? this.#state.sinceMs : now;
    if (this.#state.state === 'ready' || now - this.#saidMs >= REMIND_EVERY_MS) {
      this.#saidMs = now;
      this.#log.error(
        `journal ${this.#dir} cannot be written (${reason}). Nothing is acknowledged until it can: nodes keep ` +
          `what they measured as long as they have room. ${WHAT_TO_DO[code] ?? 'Check the disk.'}`,
      );
    }
    this.#state = { state: 'waiting', code, reason, sinceMs };
  }

  worked(): void {
    if (this.#state.state === 'ready') return;
    const seconds = Math.round((Date.now() - this.#state.sinceMs) / 1000);
    this.#state = { state: 'ready' };
    this.#log.info(`journal ${this.#dir} can be written again after ${seconds} s; what waited was stored`);
  }
}
