import type { Log } from '../config.ts';
import { daysToEvaluate, type EvaluateDeps, evaluateDay, evaluateRun } from './evaluate.ts';

/** Works out runs that have ended and days of machines, a little at a time. */
export interface EvaluationSchedule {
  /** One round of what is due; called by a timer. */
  tick(): Promise<void>;
  close(): Promise<void>;
}

const TICK_MS = 5_000;
/** Of one tick, so that the page is never held up for long. */
const MOST_RUNS = 8;
const MOST_DAYS = 8;
/** Samples may come late: a run is worked out again so long after the time before. */
const AGAIN_MS = [120_000, 3_600_000, 86_400_000];
/** Machines are looked at so far back for samples that came late. */
const LOOK_BACK_MS = 182 * 86_400_000;

export function createEvaluationSchedule(
  deps: EvaluateDeps,
  log: Log,
  now: () => number,
): EvaluationSchedule {
  const { records } = deps;
  let turn: Promise<void> = Promise.resolve();
  let nextMachine = 0;
  let failing = false;
  let closed = false;

  async function runs(): Promise<void> {
    for (const { runId, times } of records.periodLevels.dueRuns(now(), MOST_RUNS)) {
      const run = records.runs.run(runId);
      if (records.assets.asset(run.assetId).kind === 'vehicle') await evaluateRun(deps, run);
      const waitMs = AGAIN_MS[times];
      records.periodLevels.noteEvaluated(runId, times + 1, waitMs === undefined ? null : now() + waitMs);
    }
  }

  /** One machine's location at each tick, in turn. */
  async function days(): Promise<void> {
    const places = records.assets
      .list()
      .filter(({ kind }) => kind === 'machine')
      .flatMap(({ id }) => records.assets.locations(id));
    if (places.length === 0) return;
    nextMachine = (nextMachine + 1) % places.length;
    const { id } = places[nextMachine]!;
    const due = await daysToEvaluate(deps, id, now() - LOOK_BACK_MS, now());
    for (const { dayMs, readings } of due.slice(0, MOST_DAYS)) await evaluateDay(deps, id, dayMs, readings);
  }

  async function once(): Promise<void> {
    if (closed) return;
    try {
      await runs();
      await days();
      failing = false;
    } catch (error) {
      // Readings that cannot be had now are tried for again; the records say what is still to be done.
      if (!failing) log.error(`runs could not be worked out for trends: ${(error as Error).message}`);
      failing = true;
    }
  }

  function tick(): Promise<void> {
    turn = turn.then(once);
    return turn;
  }

  const timer = setInterval(() => void tick(), TICK_MS);
  timer.unref();
  return {
    tick,
    async close() {
      closed = true;
      clearInterval(timer);
      await turn;
    },
  };
}
