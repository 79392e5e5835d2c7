import { execFileSync } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface SmallDisk {
  path: string;
  /** Mounts it again with other options, such as `ro`. */
  remount(options: string): void;
  unmount(): Promise<void>;
}

/** A real file system of `size` (as mount(8) writes it) in memory; null where mounting is not allowed. */
export async function mountSmallDisk(size: string): Promise<SmallDisk | null> {
  const path = await mkdtemp(join(tmpdir(), 'clampline-disk-'));
  try {
    execFileSync('/bin/mount', ['-t', 'tmpfs', '-o', `size=${size}`, 'tmpfs', path], { stdio: 'pipe' });
  } catch {
    await rm(path, { recursive: true });
    return null;
  }
  return {
    path,
    remount: (options) =>
      void execFileSync('/bin/mount', ['-o', `remount,${options}`, path], { stdio: 'pipe' }),
    async unmount() {
      execFileSync('/bin/umount', [path], { stdio: 'pipe' });
      await rm(path, { recursive: true });
    },
  };
}
