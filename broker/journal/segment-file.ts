import { randomBytes } from 'node:crypto';
import { crc32c } from '../../firmware-protocol/index.ts';
import { systemCode } from '../errors.ts';
import type { Disk, DiskFile } from './disk.ts';
import { encodeSegmentHeader, SEGMENT_HEADER_BYTES, writeRecord } from './format.ts';
import type { Pending } from './pending.ts';
import { segmentPath } from './segments.ts';

/** The segment being written. Only `commit` changes it, and only one commit runs at a time. */
export class SegmentFile {
  readonly start: number;
  readonly openedMs: number;
  readonly #disk: Disk;
  readonly #path: string;
  readonly #saltCrc: number;
  #file: DiskFile | null;
  #durableBytes = SEGMENT_HEADER_BYTES;
  #dirty = false;

  private constructor(disk: Disk, path: string, start: number, saltCrc: number, file: DiskFile) {
    this.#disk = disk;
    this.#path = path;
    this.start = start;
    this.#saltCrc = saltCrc;
    this.#file = file;
    this.openedMs = Date.now();
  }

  /** Creates the segment and makes both its header and its name durable. May be repeated after a failure. */
  static async create(disk: Disk, dir: string, start: number, previousEnd: number): Promise<SegmentFile> {
    const path = segmentPath(dir, start);
    const salt = randomBytes(8);
    const header = encodeSegmentHeader(start, previousEnd, salt);
    // Not 'wx': a file left by a failed attempt holds no record, since nothing is written before this returns.
    const file = await disk.open(path, 'w');
    try {
      await file.write(header, 0);
      await file.sync();
      await disk.syncFolder(dir);
    } catch (error) {
      await file.close().catch(() => {});
      throw error;
    }
    return new SegmentFile(disk, path, start, crc32c(salt), file);
  }

  get path(): string {
    return this.#path;
  }

  /** Position behind the last durable record. */
  get end(): number {
    return this.start + this.#durableBytes;
  }

  get size(): number {
    return this.#durableBytes;
  }

  get empty(): boolean {
    return this.#durableBytes === SEGMENT_HEADER_BYTES;
  }

  /** Writes the batch behind the last durable record; returns the position of each of its records. */
  async commit(batch: readonly Pending[]): Promise<number[]> {
    const bytes = Buffer.allocUnsafe(batch.reduce((sum, entry) => sum + entry.bytes, 0));
    const positions: number[] = [];
    let at = 0;
    for (const entry of batch) {
      positions.push(this.end + at);
      at = writeRecord(bytes, at, entry, this.#saltCrc);
    }
    const file = await this.#ready();
    this.#dirty = true;
    await file.write(bytes, this.#durableBytes);
    await file.sync();
    this.#dirty = false;
    this.#durableBytes += bytes.length;
    return positions;
  }

  async close(): Promise<void> {
    const file = this.#file;
    this.#file = null;
    await file?.close();
  }

  /**
   * After a failed write or sync the kernel may have dropped the bytes and forgotten about it, so that a second sync
   * alone would succeed without them: open the file afresh, cut off the attempt, and write all of it again.
   */
  async #ready(): Promise<DiskFile> {
    if (this.#file !== null && !this.#dirty) return this.#file;
    await this.close().catch(() => {});
    const file = await this.#disk.open(this.#path, 'r+');
    this.#file = file;
    await file.truncate(this.#durableBytes);
    this.#dirty = false;
    return file;
  }

  /** Whether the error says that the file is no longer there (somebody removed it under the running station). */
  static isGone(error: unknown): boolean {
    return systemCode(error) === 'ENOENT';
  }
}
