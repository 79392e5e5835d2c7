import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';

/** A folder of its own for the running test, removed after it. */
export function tempDir(): string {
  const folder = mkdtempSync(join(tmpdir(), 'clampline-dashboard-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}
