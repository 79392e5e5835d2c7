import { readFileSync, rmSync } from 'node:fs';
import { rename, writeFile } from 'node:fs/promises';
import type { Checkpoint } from '../../collector/index.ts';

/** How far a copy is, in a file: a copy that was broken off goes on where it was. */
export interface CheckpointFile {
  readonly checkpoint: Checkpoint;
  /** Something had been copied before. */
  readonly resumed: boolean;
  save(checkpoint: Checkpoint): Promise<void>;
  remove(): void;
}

/** @param route from where to where: a checkpoint of another route is not used */
export function openCheckpoint(file: string, route: Record<string, string>): CheckpointFile {
  const checkpoint = earlier(file, route);
  return {
    checkpoint: checkpoint ?? {},
    resumed: checkpoint !== null,
    async save(now) {
      await writeFile(`${file}.new`, JSON.stringify({ route, checkpoint: now }));
      await rename(`${file}.new`, file);
    },
    remove: () => rmSync(file, { force: true }),
  };
}

function earlier(file: string, route: Record<string, string>): Checkpoint | null {
  try {
    const content = JSON.parse(readFileSync(file, 'utf8')) as { route?: unknown; checkpoint?: unknown };
    if (JSON.stringify(content.route) !== JSON.stringify(route)) return null;
    const { checkpoint } = content;
    if (typeof checkpoint !== 'object' || checkpoint === null) return null;
    return Object.values(checkpoint).every(Number.isSafeInteger) ? (checkpoint as Checkpoint) : null;
  } catch {
    // Not there, or cut short: what was copied already is found to be there when it is copied again.
    return null;
  }
}
