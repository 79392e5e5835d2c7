import { BrokerError } from '../errors.ts';
import type { Log } from '../log.ts';
import { type Disk, realDisk } from './disk.ts';
import { folderError, makeFolder } from './folder.ts';
import { MAX_PAYLOAD_BYTES, MAX_TOPIC_BYTES, recordBytes } from './format.ts';
import { lockJournal } from './lock.ts';
import { type Pending, PendingQueue } from './pending.ts';
import { type JournalState, Readiness } from './readiness.ts';
import { type Recovered, recoverSegments } from './recovery.ts';
import { DEFAULT_RETENTION, type RetentionRules } from './retention.ts';
import { SealedSegments } from './sealed-segments.ts';
import { SegmentFile } from './segment-file.ts';

export interface JournalOptions {
  /** A segment is closed once it is this long (default 64 MiB) ... */
  segmentBytes?: number;
  /** ... or this old (default one day), so that age can be judged by whole segments. */
  segmentMaxAgeMs?: number;
  /** Bound on what is accepted and not yet written (default 16 MiB). */
  maxPendingBytes?: number;
  /** Default: 20 GiB, 14 days, 512 MiB of the disk left free. */
  retention?: Partial<RetentionRules>;
  /** Pause before a failed write is tried again; doubles up to fifty times this (default 100 ms). */
  retryMs?: number;
  /** For tests: a disk that fails on purpose. */
  disk?: Disk;
}

export interface JournalWriter {
  /**
   * Resolves with the record's position once it is on the disk. Holds back (back-pressure) while the disk does not take
   * it. Rejects only with `JOURNAL_RECORD_TOO_LARGE` or, when the station ends first, `JOURNAL_CLOSED`.
   * `payload` must not change before that. `arrivedAtUs`: Unix microseconds.
   */
  append(topic: string, payload: Uint8Array, arrivedAtUs: number): Promise<number>;
  state(): JournalState;
  counters(): Record<string, number>;
  /** Applies the retention rules now; it also happens by itself. */
  enforceRetention(): Promise<void>;
  /** Writes what was accepted, unless the disk refuses it, and gives the folder free. */
  close(): Promise<void>;
}

/** Most a batch may hold; also the most that can be in the file without being durable yet. */
const MAX_BATCH_BYTES = 4 * 1024 ** 2;
const RETENTION_EVERY_MS = 60_000;

/**
 * Opens the journal in `dir` for writing; the folder is made when only its last part is missing. Throws BrokerError:
 * `JOURNAL_FOLDER_MISSING`, `_READ_ONLY`, `_UNUSABLE`, `JOURNAL_DISK_FULL`, `JOURNAL_IN_USE`, `JOURNAL_NEWER_FORMAT`.
 */
export async function openJournalWriter(
  dir: string,
  log: Log,
  options: JournalOptions = {},
): Promise<JournalWriter> {
  const disk = options.disk ?? realDisk;
  let unlock: (() => Promise<void>) | null = null;
  try {
    await makeFolder(dir);
    unlock = await lockJournal(dir);
    return new Writer(dir, log, disk, options, await recoverSegments(disk, dir, log), unlock);
  } catch (error) {
    await unlock?.().catch(() => {});
    throw folderError(dir, error);
  }
}

class Writer implements JournalWriter {
  readonly #dir: string;
  readonly #log: Log;
  readonly #disk: Disk;
  readonly #unlock: () => Promise<void>;
  readonly #segmentBytes: number;
  readonly #segmentMaxAgeMs: number;
  readonly #retryMs: number;
  readonly #queue: PendingQueue;
  readonly #sealed: SealedSegments;
  readonly #readiness: Readiness;
  readonly #retentionTimer: NodeJS.Timeout;
  readonly #counts = { records: 0, bytes: 0, commits: 0, failedCommits: 0 };
  #active: SegmentFile | null = null;
  #nextStart: number;
  #previousEnd: number;
  #committing: Promise<void> | null = null;
  #closed = false;
  #wake: () => void = () => {};

  constructor(
    dir: string,
    log: Log,
    disk: Disk,
    options: JournalOptions,
    recovered: Recovered,
    unlock: () => Promise<void>,
  ) {
    this.#dir = dir;
    this.#log = log;
    this.#disk = disk;
    this.#unlock = unlock;
    this.#segmentBytes = options.segmentBytes ?? 64 * 1024 ** 2;
    this.#segmentMaxAgeMs = options.segmentMaxAgeMs ?? 24 * 3600 * 1000;
    this.#retryMs = options.retryMs ?? 100;
    this.#queue = new PendingQueue(options.maxPendingBytes ?? 16 * 1024 ** 2);
    const rules = { ...DEFAULT_RETENTION, ...options.retention };
    this.#sealed = new SealedSegments(dir, disk, log, rules, recovered.sealed);
    this.#readiness = new Readiness(dir, log);
    this.#previousEnd = recovered.end;
    this.#nextStart = recovered.nextStart;
    this.#retentionTimer = setInterval(() => void this.enforceRetention(), RETENTION_EVERY_MS);
    this.#retentionTimer.unref();
  }

  append(topic: string, payload: Uint8Array, arrivedAtUs: number): Promise<number> {
    const topicBytes = Buffer.from(topic);
    if (this.#closed) return Promise.reject(new BrokerError('JOURNAL_CLOSED'));
    if (topicBytes.length > MAX_TOPIC_BYTES || payload.length > MAX_PAYLOAD_BYTES) {
      return Promise.reject(
        new BrokerError('JOURNAL_RECORD_TOO_LARGE', `${payload.length} bytes on topic ${topic.slice(0, 80)}`),
      );
    }
    return new Promise((resolve, reject) => {
      const bytes = recordBytes(topicBytes, payload);
      this.#queue.add({ topic: topicBytes, payload, arrivedAtUs, bytes, resolve, reject });
      this.#committing ??= this.#commitAll();
    });
  }

  state(): JournalState {
    return this.#readiness.state;
  }

  counters(): Record<string, number> {
    return {
      ...this.#counts,
      pendingBytes: this.#queue.bytes,
      heldBack: this.#queue.waitingOutside,
      waiting: this.#readiness.state.state === 'waiting' ? 1 : 0,
      segments: this.#sealed.count + (this.#active === null ? 0 : 1),
      segmentsRemoved: this.#sealed.removed,
      pinnedBytes: this.#sealed.pinnedBytes,
    };
  }

  enforceRetention(): Promise<void> {
    return this.#sealed.clean(this.#active?.size ?? null);
  }

  async close(): Promise<void> {
    if (this.#closed) return;
    this.#closed = true;
    clearInterval(this.#retentionTimer);
    this.#wake();
    await this.#committing;
    await this.#sealed.cleaning;
    await this.#active?.close().catch(() => {});
    await this.#unlock().catch(() => {});
  }

  /** Runs while anything waits: all that arrived during one write goes out together with the next. */
  async #commitAll(): Promise<void> {
    // One turn of the event loop: messages of one network read, of any client, share the first write too.
    await new Promise(setImmediate);
    while (!this.#queue.empty) {
      const batch = this.#queue.takeBatch(MAX_BATCH_BYTES);
      const positions = await this.#commitHeld(batch);
      if (positions === null) {
        const error = new BrokerError('JOURNAL_CLOSED');
        for (const entry of batch) entry.reject(error);
        this.#queue.rejectAll(error);
        break;
      }
      this.#queue.release(batch);
      for (const [index, entry] of batch.entries()) entry.resolve(positions[index]!);
    }
    // In the same turn as the check that nothing waits: whoever appends next must start a new run.
    this.#committing = null;
  }

  /** Writes one batch, as often as it takes; null when the journal is closed while the disk refuses it. */
  async #commitHeld(batch: readonly Pending[]): Promise<number[] | null> {
    for (let pauseMs = this.#retryMs; ; pauseMs = Math.min(2 * pauseMs, 50 * this.#retryMs)) {
      try {
        const positions = await this.#commit(batch);
        this.#readiness.worked();
        return positions;
      } catch (error) {
        this.#counts.failedCommits++;
        this.#readiness.failed(error);
        if (this.#closed) return null;
        await this.enforceRetention();
        await this.#pause(pauseMs);
      }
    }
  }

  async #commit(batch: readonly Pending[]): Promise<number[]> {
    const bytes = batch.reduce((sum, entry) => sum + entry.bytes, 0);
    if (this.#active !== null && this.#isFinished(this.#active, bytes)) await this.#seal(this.#active);
    if (this.#active === null) {
      this.#active = await SegmentFile.create(this.#disk, this.#dir, this.#nextStart, this.#previousEnd);
      void this.enforceRetention();
    }
    try {
      const positions = await this.#active.commit(batch);
      this.#counts.records += batch.length;
      this.#counts.bytes += bytes;
      this.#counts.commits++;
      return positions;
    } catch (error) {
      if (SegmentFile.isGone(error)) {
        this.#log.error(`journal ${this.#active.path} was removed while it was being written`);
        await this.#seal(this.#active);
      }
      throw error;
    }
  }

  #isFinished(segment: SegmentFile, moreBytes: number): boolean {
    if (segment.empty) return false;
    return (
      segment.size + moreBytes > this.#segmentBytes || Date.now() - segment.openedMs > this.#segmentMaxAgeMs
    );
  }

  async #seal(segment: SegmentFile): Promise<void> {
    await segment.close().catch(() => {});
    const { start, path, size: bytes } = segment;
    this.#sealed.add({ start, path, bytes, lastWriteMs: Date.now() });
    this.#previousEnd = this.#nextStart = segment.end;
    this.#active = null;
  }

  #pause(ms: number): Promise<void> {
    if (this.#closed) return Promise.resolve();
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, ms);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }
}
