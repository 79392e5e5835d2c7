import { CollectorError } from '../errors.ts';
import type { Reading } from '../model.ts';
import type { SensorKey } from '../store/reading-store.ts';
import type { RollupRow } from '../store/rollup-row.ts';

/** What one time of one sensor says in an exported file. */
export type Parsed =
  | { level: 'second'; sensor: SensorKey; reading: Reading }
  | { level: 'minute' | 'hour'; sensor: SensorKey; row: RollupRow };

export function unreadable(line: number, reason: string): CollectorError {
  return new CollectorError('IMPORT_UNREADABLE', `line ${line}: ${reason}`);
}
