import type { AlertRecord } from '../records/alerts.ts';
import type { RecordStore } from '../records/record-store.ts';

/** More than an asset's locations and values can raise at once. */
const MOST = 500;

/** Alerts of an asset that say: a level has changed beyond its own scatter. */
export function openChanges({ alerts }: RecordStore, assetId: number): AlertRecord[] {
  return alerts.list({ state: 'open', assetId, limit: MOST }).filter(({ about }) => about === 'change');
}
