/** A real disk that fails on purpose: the faults of a full or dying one, at the edge where they come in. */
import { type Disk, type DiskFile, realDisk } from '../../../broker/journal/disk.ts';

export type Operation = 'open' | 'write' | 'sync' | 'syncFolder';

export interface FailingDisk extends Disk {
  /** From now on this operation fails with this system code, until `heal`. */
  fail(operation: Operation, code: string): void;
  heal(): void;
  /** How often an operation failed on purpose. */
  failures: number;
}

export function failingDisk(): FailingDisk {
  let fault: { operation: Operation; code: string } | null = null;
  const check = (operation: Operation) => {
    if (fault?.operation !== operation) return;
    disk.failures++;
    throw Object.assign(new Error(`${fault.code}: on purpose`), { code: fault.code });
  };

  function wrap(file: DiskFile): DiskFile {
    let unsynced: { offset: number; bytes: number } | null = null;
    return {
      ...file,
      async write(bytes, offset) {
        try {
          check('write');
        } catch (error) {
          // As a disk that fills up does: part of it is written.
          await file.write(bytes.subarray(0, bytes.length >> 1), offset);
          throw error;
        }
        await file.write(bytes, offset);
        unsynced = { offset, bytes: bytes.length };
      },
      async sync() {
        try {
          check('sync');
        } catch (error) {
          // As Linux does: pages that could not be written back are dropped, and the next sync reports success.
          if (unsynced !== null) await file.write(Buffer.alloc(unsynced.bytes), unsynced.offset);
          throw error;
        }
        await file.sync();
        unsynced = null;
      },
    };
  }

  const disk: FailingDisk = {
    ...realDisk,
    failures: 0,
    async open(path, flags) {
      check('open');
      return wrap(await realDisk.open(path, flags));
    },
    async syncFolder(dir) {
      check('syncFolder');
      await realDisk.syncFolder(dir);
    },
    fail(operation, code) {
      fault = { operation, code };
    },
    heal() {
      fault = null;
    },
  };
  return disk;
}
