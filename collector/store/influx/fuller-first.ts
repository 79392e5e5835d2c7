import { CollectorError } from '../../errors.ts';
import type { InfluxClient } from './client.ts';
import { rollupCountQuery } from './flux-queries.ts';
import type { OutboxEntry } from './outbox.ts';

/**
 * Keeps a fuller minute or hour of the database from being overwritten.
 *
 * A readings file that was begun anew (lost, and made again from the journal) opens in the middle of a minute and
 * of an hour. Of these first ones alone the database may know more; all later ones are whole.
 */
export function createFullerFirst(client: InfluxClient, site: string) {
  /** Readings that the database had in the first slot of a sensor's level before this file wrote it. */
  const before = new Map<string, number>();

  async function countBefore(entry: OutboxEntry & { level: 'minute' | 'hour' }): Promise<number> {
    const key = `${entry.level} ${entry.row.slot} ${entry.nodeId} ${entry.sensor}`;
    const known = before.get(key);
    if (known !== undefined) return known;
    const count = await ask(entry);
    before.set(key, count);
    return count;
  }

  async function ask(entry: OutboxEntry & { level: 'minute' | 'hour' }): Promise<number> {
    const { level, nodeId, sensor, row } = entry;
    try {
      const flux = rollupCountQuery({
        bucket: client.bucket(level),
        level,
        site,
        nodeId,
        sensor,
        slot: row.slot,
      });
      const rows = await client.query<{ _value: number }>(flux);
      return rows[0]?._value ?? 0;
    } catch (error) {
      // A server that takes points but knows no Flux cannot tell.
      if (error instanceof CollectorError && error.code !== 'INFLUX_UNREACHABLE') return 0;
      throw error;
    }
  }

  /** Entries to send; the others are in the database already, fuller. */
  return async (entries: readonly OutboxEntry[]): Promise<{ send: OutboxEntry[]; keep: OutboxEntry[] }> => {
    const send: OutboxEntry[] = [];
    const keep: OutboxEntry[] = [];
    for (const entry of entries) {
      const fuller =
        entry.isFirst && entry.level !== 'second' && (await countBefore(entry)) > entry.row.count;
      (fuller ? keep : send).push(entry);
    }
    return { send, keep };
  };
}
