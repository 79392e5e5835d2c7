import { BrokerError, reasonOf, systemCode } from '../errors.ts';
import type { Log } from '../log.ts';
import { LogLimiter } from '../log-limiter.ts';
import type { Disk } from './disk.ts';
import { PinnedSegments } from './pinned-segments.ts';
import type { SealedSegment } from './recovery.ts';
import { type Removal, type RetentionRules, segmentsToRemove } from './retention.ts';

const WHY: Record<Removal['why'], string> = {
  size: 'the journal reached its size limit',
  age: 'it is past its keeping time',
  room: 'the disk is running out of room; free some space to keep more',
};

/** The segments no longer written, and their removal by the retention rules. */
export class SealedSegments {
  readonly #dir: string;
  readonly #disk: Disk;
  readonly #log: Log;
  readonly #rules: RetentionRules;
  /** A full journal removes a segment for each one it adds: said once an hour. */
  readonly #limiter = new LogLimiter(3_600_000);
  readonly #pinned: PinnedSegments;
  #segments: SealedSegment[];
  #cleaning: Promise<void> | null = null;
  removed = 0;

  constructor(dir: string, disk: Disk, log: Log, rules: RetentionRules, segments: SealedSegment[]) {
    this.#dir = dir;
    this.#disk = disk;
    this.#log = log;
    this.#rules = rules;
    this.#pinned = new PinnedSegments(dir);
    this.#segments = segments;
  }

  get count(): number {
    return this.#segments.length;
  }

  /** Bytes that pins kept at the last round of retention. */
  get pinnedBytes(): number {
    return this.#pinned.bytes;
  }

  /** The removal under way, if any. */
  get cleaning(): Promise<void> | null {
    return this.#cleaning;
  }

  add(segment: SealedSegment): void {
    this.#segments.push(segment);
  }

  /** Removes what the rules say; `active`: the size of the segment being written, null when there is none. */
  clean(activeBytes: number | null): Promise<void> {
    this.#cleaning ??= this.#clean(activeBytes).finally(() => {
      this.#cleaning = null;
    });
    return this.#cleaning;
  }

  async #clean(activeBytes: number | null): Promise<void> {
    try {
      const state = {
        activeBytes: activeBytes ?? 0,
        freeBytes: await this.#disk.freeBytes(this.#dir),
        nowMs: Date.now(),
      };
      // The newest segment holds the journal's place: without it the next start would count from 0 again.
      const removable = activeBytes === null ? this.#segments.slice(0, -1) : this.#segments;
      const pinned = await this.#pinned.among(this.#segments);
      const removals = segmentsToRemove(removable, state, this.#rules, (segment) => pinned.has(segment));
      this.#sayWhenPinsFillTheDisk(state.freeBytes, removals);
      for (const { segment, why } of removals) {
        await this.#disk.remove(segment.path).catch((error: unknown) => {
          if (systemCode(error) !== 'ENOENT') throw error;
        });
        this.#segments = this.#segments.filter((other) => other !== segment);
        this.removed++;
        this.#limiter.limit(why, (note) =>
          this.#log.info(`journal ${segment.path} removed: ${WHY[why]}${note}`),
        );
      }
    } catch (error) {
      if (error instanceof BrokerError) {
        this.#limiter.limit(error.code, (note) =>
          this.#log.error(`${error.message}. ${error.remedy}${note}`),
        );
        return;
      }
      this.#log.warn(`journal ${this.#dir}: old segments could not be removed: ${reasonOf(error)}`);
    }
  }

  #sayWhenPinsFillTheDisk(freeBytes: number, removals: readonly Removal[]): void {
    const after = removals.reduce((sum, { segment }) => sum + segment.bytes, freeBytes);
    if (this.#pinned.bytes === 0 || after >= this.#rules.minFreeBytes) return;
    this.#limiter.limit('pinned', (note) =>
      this.#log.warn(
        `journal ${this.#dir}: the disk is running out of room and ${Math.round(this.#pinned.bytes / 1e6)} MB ` +
          `of the journal belong to kept runs, which are never removed. Release some of them, or free space${note}`,
      ),
    );
  }
}
