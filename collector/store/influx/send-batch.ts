import { CollectorError } from '../../errors.ts';
import { isLeftOut, readingOf } from '../reading-row.ts';
import { droppedAsTooOld, type InfluxClient } from './client.ts';
import { LEVELS } from './layout.ts';
import type { FiledRow, OutboxEntry } from './outbox.ts';
import { type PointTags, readingLines, rollupLines } from './points.ts';

/** Where a sensor was clamped at a time, milliseconds since 1970; null when that is not known. */
export type MountLookup = (
  nodeId: string,
  sensor: number,
  atMs: number,
) => { asset: string; location: string } | null;

export interface BatchDeps {
  client: InfluxClient;
  site: string;
  mountOf?: MountLookup;
}

/** What became of the entries of a batch. */
export interface Outcome {
  delivered: OutboxEntry[];
  /** Refused for good, each with the reason. */
  rejected: { entries: OutboxEntry[]; reason: string }[];
}

/** So many refused entries with none taken in between are no accident of single points. */
const SYSTEMIC = 10;
/**
 * Writes entries, oldest first. A batch that is refused is halved until what is refused is known, so that one bad
 * point holds up nothing.
 *
 * @throws CollectorError when the database cannot be reached, or when it refuses everything: nothing is given up then
 */
export async function sendBatch(entries: readonly OutboxEntry[], deps: BatchDeps): Promise<Outcome> {
  const outcome: Outcome = { delivered: [], rejected: [] };
  // A bucket answers for its own points only.
  const buckets = new Map<string, OutboxEntry[]>();
  for (const entry of entries) {
    const bucket = deps.client.bucket(entry.level);
    const own = buckets.get(bucket);
    if (own === undefined) buckets.set(bucket, [entry]);
    else own.push(entry);
  }
  for (const own of buckets.values()) {
    const part: Outcome = { delivered: [], rejected: [] };
    await sendOrHalve(own, deps, part);
    outcome.delivered.push(...part.delivered);
    outcome.rejected.push(...part.rejected);
  }
  return outcome;
}

async function sendOrHalve(
  entries: readonly OutboxEntry[],
  deps: BatchDeps,
  outcome: Outcome,
): Promise<void> {
  if (entries.length === 0) return;
  try {
    await write(entries, deps);
    outcome.delivered.push(...entries);
  } catch (error) {
    if (!(error instanceof CollectorError) || error.code !== 'INFLUX_REFUSED') throw error;
    const tooOld = droppedAsTooOld(error);
    if (tooOld !== null) {
      const { older, newer } = splitByAge(entries, tooOld, deps);
      outcome.delivered.push(...newer);
      outcome.rejected.push({ entries: older, reason: error.message });
      return;
    }
    if (entries.length > 1) {
      const half = entries.length >> 1;
      await sendOrHalve(entries.slice(0, half), deps, outcome);
      await sendOrHalve(entries.slice(half), deps, outcome);
      return;
    }
    outcome.rejected.push({ entries: [...entries], reason: error.message });
    if (outcome.delivered.length === 0 && outcome.rejected.length >= SYSTEMIC) throw error;
  }
}

/** The oldest entries, together of so many lines, and the others. */
function splitByAge(entries: readonly OutboxEntry[], lines: number, deps: BatchDeps) {
  const byAge = [...entries].sort((a, b) => atMs(a) - atMs(b));
  let at = 0;
  for (let left = lines; left > 0 && at < byAge.length; at++) left -= linesOf(byAge[at]!, deps).length;
  return { older: byAge.slice(0, at), newer: byAge.slice(at) };
}

/** All of one bucket. */
async function write(entries: readonly OutboxEntry[], deps: BatchDeps): Promise<void> {
  const lines = entries.flatMap((entry) => linesOf(entry, deps));
  await deps.client.write(entries[0]!.level, lines);
}

/** Line protocol of one row of the readings file. */
export function linesOf(entry: FiledRow, { site, mountOf }: Omit<BatchDeps, 'client'>): string[] {
  const { nodeId, sensor } = entry;
  const mount = mountOf?.(nodeId, sensor, atMs(entry)) ?? null;
  const tags: PointTags = { site, nodeId, sensor, mount };
  return entry.level === 'second'
    ? readingLines(tags, readingOf(nodeId, sensor, entry.row), isLeftOut(entry.row.flags))
    : rollupLines(tags, entry.level, entry.row);
}

function atMs(entry: FiledRow): number {
  const slot = entry.level === 'second' ? entry.row.second : entry.row.slot;
  return slot * LEVELS[entry.level].lengthS * 1000;
}
