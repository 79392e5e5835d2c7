import { type FileHandle, open, readdir, stat, statfs, unlink } from 'node:fs/promises';

/** The writer's way to the disk: small, so that tests can put a failing disk in its place. */
export interface Disk {
  open(path: string, flags: 'r+' | 'wx' | 'w'): Promise<DiskFile>;
  list(dir: string): Promise<string[]>;
  stat(path: string): Promise<{ size: number; modifiedMs: number }>;
  remove(path: string): Promise<void>;
  /** Makes the folder's list of files durable. */
  syncFolder(dir: string): Promise<void>;
  freeBytes(dir: string): Promise<number>;
}

export interface DiskFile {
  read(bytes: number, offset: number): Promise<Buffer>;
  /** Writes all of `bytes` at `offset`; on an error any part of them may have been written. */
  write(bytes: Buffer, offset: number): Promise<void>;
  truncate(size: number): Promise<void>;
  /** Returns when the bytes, and the size needed to find them, are on the disk. */
  sync(): Promise<void>;
  close(): Promise<void>;
}

export const realDisk: Disk = {
  open: async (path, flags) => file(await open(path, flags)),
  list: (dir) => readdir(dir),
  stat: async (path) => {
    const { size, mtimeMs } = await stat(path);
    return { size, modifiedMs: mtimeMs };
  },
  remove: (path) => unlink(path),
  syncFolder: async (dir) => {
    const handle = await open(dir, 'r');
    try {
      await handle.sync();
    } finally {
      await handle.close();
    }
  },
  freeBytes: async (dir) => {
    const { bavail, bsize } = await statfs(dir);
    return bavail * bsize;
  },
};

function file(handle: FileHandle): DiskFile {
  return {
    read: (bytes, offset) => readAt(handle, bytes, offset),
    write: async (bytes, offset) => {
      for (let at = 0; at < bytes.length; ) {
        at += (await handle.write(bytes, at, bytes.length - at, offset + at)).bytesWritten;
      }
    },
    truncate: (size) => handle.truncate(size),
    sync: () => handle.datasync(),
    close: () => handle.close(),
  };
}

/** Up to `bytes` bytes from `offset` on; fewer only where the file ends. */
export async function readAt(handle: FileHandle, bytes: number, offset: number): Promise<Buffer> {
  const buffer = Buffer.allocUnsafeSlow(bytes);
  let filled = 0;
  while (filled < bytes) {
    const { bytesRead } = await handle.read(buffer, filled, bytes - filled, offset + filled);
    if (bytesRead === 0) break;
    filled += bytesRead;
  }
  return buffer.subarray(0, filled);
}
