import { type FileHandle, open } from 'node:fs/promises';
import { BrokerError } from '../errors.ts';
import { readAt } from './disk.ts';
import { decodeSegmentHeader, SEGMENT_HEADER_BYTES, type SegmentHeader } from './format.ts';
import type { Segment } from './segments.ts';

/** A segment open for reading. `header` is null while it is not whole (`short`) or for good (`damaged`). */
export class OpenSegment {
  readonly start: number;
  readonly #handle: FileHandle;
  #header: SegmentHeader | null = null;
  damaged = false;

  private constructor(start: number, handle: FileHandle) {
    this.start = start;
    this.#handle = handle;
  }

  static async open(segment: Segment): Promise<OpenSegment> {
    return new OpenSegment(segment.start, await open(segment.path, 'r'));
  }

  async header(): Promise<SegmentHeader | null> {
    if (this.#header !== null || this.damaged) return this.#header;
    const decoded = decodeSegmentHeader(await this.read(0, SEGMENT_HEADER_BYTES));
    if (decoded.ok && decoded.header.start === this.start) this.#header = decoded.header;
    else if (!decoded.ok && decoded.problem === 'newer') throw new BrokerError('JOURNAL_NEWER_FORMAT');
    else this.damaged = decoded.ok || decoded.problem === 'damaged';
    return this.#header;
  }

  /** Up to `bytes` bytes from `offset` on; fewer only where the file ends. */
  read(offset: number, bytes: number): Promise<Buffer> {
    return readAt(this.#handle, bytes, offset);
  }

  /** Bytes in the file now, and whether its name is gone from the folder. */
  async state(): Promise<{ size: number; removed: boolean }> {
    const { size, nlink } = await this.#handle.stat();
    return { size, removed: nlink === 0 };
  }

  close(): Promise<void> {
    return this.#handle.close();
  }
}
