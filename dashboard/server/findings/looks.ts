import type { SpanAnswer } from '../../../collector/index.ts';
import type { FindingRecord, FindingsRequest } from '../../contract/drive-train.ts';
import type { DashboardDeps, Log } from '../config.ts';
import { Refusal } from '../errors.ts';
import type { RecordStore } from '../records/record-store.ts';
import { findingOf } from './finding-of.ts';
import { type PreparedLook, prepareLook } from './question.ts';

/** Looks into samples of locations: one after the other, in a thread of their own, the results kept. */
export interface Looks {
  /** Throws `LOCATION_NOT_FOUND`, `NOTHING_MOUNTED`, `NO_SAMPLES`, `ANALYSIS_BUSY`, `ANALYSIS_UNAVAILABLE`. */
  look(locationId: number, request: FindingsRequest, by: string | null): Promise<FindingRecord>;
  /** Looks under way and waiting. */
  waiting(): number;
}

/** More would let a person wait for minutes without knowing why. */
const MOST_WAITING = 8;

export interface LooksDeps {
  records: RecordStore;
  analyse: DashboardDeps['analyse'];
  journalDir: string | undefined;
  log: Log;
  now(): number;
}

export function createLooks({ records, analyse, journalDir, log, now }: LooksDeps): Looks {
  let turn: Promise<unknown> = Promise.resolve();
  let waiting = 0;

  async function analysed(prepared: PreparedLook): Promise<SpanAnswer> {
    if (analyse === undefined || journalDir === undefined) throw new Refusal('ANALYSIS_UNAVAILABLE');
    let answer: SpanAnswer | null;
    try {
      answer = await analyse({ ...prepared.question, journalDir });
    } catch (cause) {
      log.error(`an analysis failed: ${(cause as Error).message}`);
      throw new Refusal('ANALYSIS_UNAVAILABLE', { cause });
    }
    if (answer === null) throw new Refusal('NO_SAMPLES');
    return answer;
  }

  async function lookNow(
    locationId: number,
    request: FindingsRequest,
    by: string | null,
  ): Promise<FindingRecord> {
    const atMs = now();
    const prepared = prepareLook(records, locationId, request, atMs);
    if (prepared === null) throw new Refusal('NOTHING_MOUNTED');
    const { pictureSvg, ...found } = await analysed(prepared);
    return records.findings.add(findingOf(locationId, prepared, found, { atMs, by }), pictureSvg);
  }

  return {
    async look(locationId, request, by) {
      records.assets.location(locationId);
      if (waiting >= MOST_WAITING) throw new Refusal('ANALYSIS_BUSY');
      waiting += 1;
      const mine = turn.then(() => lookNow(locationId, request, by));
      turn = mine
        .catch(() => undefined)
        .finally(() => {
          waiting -= 1;
        });
      return mine;
    },
    waiting: () => waiting,
  };
}
