import { readdir, stat } from 'node:fs/promises';
import { BrokerError, reasonOf, systemCode } from '../errors.ts';
import { RESTART_GAP_BYTES, SEGMENT_HEADER_BYTES } from './format.ts';
import { OpenSegment } from './open-segment.ts';
import { firstArrivalUs, readInto } from './read-segment.ts';
import { type Segment, segmentIndexAt, segmentsAmong } from './segments.ts';
import { JournalWatch } from './watch.ts';

export interface JournalRecord {
  position: number;
  /** When it reached the station: Unix microseconds. */
  arrivedAtUs: number;
  topic: string;
  /** A view of the bytes read: keeping it keeps up to `maxBytes` alive; copy what is to be kept. */
  payload: Buffer;
}

export interface JournalRead {
  records: JournalRecord[];
  /** Where to read on. Lower than asked for only after `journalReplaced`. */
  nextPosition: number;
  /** Bytes between the position asked for and what could be read that retention had removed. */
  skippedBytes: number;
  /** Bytes passed over because their checksum did not match. */
  damagedBytes: number;
  /** The position lay far behind the end: this is another journal than the one it was taken from. */
  journalReplaced: boolean;
}

interface WaitOptions {
  /** Default: no limit. */
  timeoutMs?: number;
  signal?: AbortSignal;
}

export interface JournalReader {
  /**
   * Records from a position on, in order: about `maxBytes` (default 1 MiB), but at least one whole record when there is
   * one. Empty at the end of the journal. A record still being written is not there yet.
   */
  read(fromPosition: number, maxBytes?: number): Promise<JournalRead>;
  /** Resolves true once `read(position)` may do more than the last one did; false after the timeout or abort. Never rejects. */
  waitForMore(position: number, options?: WaitOptions): Promise<boolean>;
  oldestPosition(): Promise<number>;
  endPosition(): Promise<number>;
  /** A position before everything that arrived at or after this time, at most one segment too early. */
  positionBefore(arrivedAtUs: number): Promise<number>;
  close(): Promise<void>;
}

/** Opens the journal in `dir` for reading, also while it is written. Throws BrokerError `JOURNAL_FOLDER_MISSING`. */
export async function openJournalReader(dir: string): Promise<JournalReader> {
  const reader = new Reader(dir);
  await reader.oldestPosition();
  return reader;
}

const DEFAULT_READ_BYTES = 1024 ** 2;

class Reader implements JournalReader {
  readonly #dir: string;
  readonly #watch: JournalWatch;
  #segments: Segment[] = [];
  #open: OpenSegment | null = null;
  #turn: Promise<unknown> = Promise.resolve();
  /** Where the last read found nothing, and how far the journal went then: the same bytes are no news. */
  #nothingAt = { position: -1, end: -1 };

  constructor(dir: string) {
    this.#dir = dir;
    this.#watch = new JournalWatch(dir);
  }

  read(fromPosition: number, maxBytes = DEFAULT_READ_BYTES): Promise<JournalRead> {
    const run = this.#turn.then(() => this.#read(fromPosition, maxBytes));
    this.#turn = run.catch(() => {});
    return run;
  }

  async waitForMore(position: number, options: WaitOptions = {}): Promise<boolean> {
    const deadline = performance.now() + (options.timeoutMs ?? Number.POSITIVE_INFINITY);
    for (;;) {
      if (options.signal?.aborted) return false;
      const change = this.#watch.next(Math.max(0, deadline - performance.now()), options.signal);
      // A folder that cannot be read is news as well: `read` says what is wrong with it.
      const end = await this.endPosition().catch(() => null);
      if (end === null) return true;
      const news = this.#nothingAt.position === position ? end !== this.#nothingAt.end : end > position;
      if (news) return true;
      if (performance.now() >= deadline) return false;
      await change;
    }
  }

  async oldestPosition(): Promise<number> {
    await this.#refresh();
    return this.#segments[0]?.start ?? 0;
  }

  async endPosition(): Promise<number> {
    for (;;) {
      await this.#refresh();
      const last = this.#segments.at(-1);
      if (last === undefined) return 0;
      const size = await ifThere(stat(last.path).then((found) => found.size));
      if (size !== null) return last.start + size;
    }
  }

  async positionBefore(arrivedAtUs: number): Promise<number> {
    await this.#refresh();
    for (const segment of this.#segments.toReversed()) {
      const first = await this.#peek(segment, firstArrivalUs);
      if (first !== null && first <= arrivedAtUs) return segment.start;
    }
    return this.#segments[0]?.start ?? 0;
  }

  async close(): Promise<void> {
    this.#watch.close();
    await this.#turn;
    await this.#open?.close();
    this.#open = null;
  }

  async #read(fromPosition: number, maxBytes: number): Promise<JournalRead> {
    const result: JournalRead = {
      records: [],
      nextPosition: fromPosition,
      skippedBytes: 0,
      damagedBytes: 0,
      journalReplaced: false,
    };
    if (this.#segments.length === 0) await this.#refresh();
    for (;;) {
      const step = await this.#step(result, maxBytes);
      if (result.records.length > 0) return result;
      if (step !== 'again') {
        this.#nothingAt = { position: result.nextPosition, end: step.end };
        return result;
      }
    }
  }

  /** Reads from `result.nextPosition` on within one segment, or moves it to the next; `end` when there is none. */
  async #step(result: JournalRead, maxBytes: number): Promise<'again' | { end: number }> {
    const index = segmentIndexAt(this.#segments, result.nextPosition);
    const segment = this.#segments[index];
    const following = this.#segments[index + 1];
    if (segment === undefined) {
      if (following === undefined) return { end: 0 };
      return this.#moveTo(following, result);
    }
    const open = await this.#openSegment(segment);
    if (open === null) return (await this.#refresh()) || this.#segments.length > 0 ? 'again' : { end: 0 };
    const { size, removed } = await open.state();
    const progress = await readInto(result, open, size, maxBytes);
    if (progress) return 'again';
    if (following !== undefined) {
      // What is left of a finished segment is damaged, or the trace of a write that was cut short.
      const headerBytes = (await open.header()) === null ? 0 : SEGMENT_HEADER_BYTES;
      const unread = Math.max(result.nextPosition, open.start + headerBytes);
      result.damagedBytes += Math.max(0, open.start + size - unread);
      result.nextPosition = Math.max(result.nextPosition, open.start + size);
      return this.#moveTo(following, result);
    }
    if (removed) await this.#closeSegment();
    // The last segment known. A newer one may exist: then this one is finished, and is read once more to its end.
    if (await this.#refresh()) return 'again';
    if (result.nextPosition > open.start + size + RESTART_GAP_BYTES) {
      result.journalReplaced = true;
      result.nextPosition = this.#segments[0]?.start ?? 0;
      return 'again';
    }
    return { end: open.start + size };
  }

  /** Goes on at the beginning of `segment`, counting what lay between and is no longer there. */
  async #moveTo(segment: Segment, result: JournalRead): Promise<'again'> {
    const open = await this.#openSegment(segment);
    if (open === null) {
      await this.#refresh();
      return 'again';
    }
    const header = await open.header();
    result.skippedBytes += Math.max(0, (header?.previousEnd ?? segment.start) - result.nextPosition);
    result.nextPosition = segment.start;
    return 'again';
  }

  /** The segment, opened; null when retention has removed it. */
  async #openSegment(segment: Segment): Promise<OpenSegment | null> {
    if (this.#open?.start === segment.start) return this.#open;
    await this.#closeSegment();
    this.#open = await ifThere(OpenSegment.open(segment));
    return this.#open;
  }

  async #closeSegment(): Promise<void> {
    const open = this.#open;
    this.#open = null;
    await open?.close();
  }

  async #peek<T>(segment: Segment, use: (segment: OpenSegment) => Promise<T>): Promise<T | null> {
    const open = await ifThere(OpenSegment.open(segment));
    if (open === null) return null;
    try {
      return await use(open);
    } finally {
      await open.close();
    }
  }

  /** Lists the folder again; true when the segments changed. */
  async #refresh(): Promise<boolean> {
    let names: string[];
    try {
      names = await readdir(this.#dir);
    } catch (error) {
      const code = systemCode(error) === 'ENOENT' ? 'JOURNAL_FOLDER_MISSING' : 'JOURNAL_FOLDER_UNUSABLE';
      throw new BrokerError(code, `${this.#dir} (${reasonOf(error)})`, error);
    }
    const before = this.#segments;
    this.#segments = segmentsAmong(this.#dir, names);
    return before.length !== this.#segments.length || before.at(-1)?.start !== this.#segments.at(-1)?.start;
  }
}

/** What the promise gives; null when the file is gone: retention removes segments under a reader. */
async function ifThere<T>(found: Promise<T>): Promise<T | null> {
  try {
    return await found;
  } catch (error) {
    if (systemCode(error) === 'ENOENT') return null;
    throw error;
  }
}
