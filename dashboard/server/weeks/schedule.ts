import type { Log } from '../config.ts';
import { createRounds, type Rounds } from '../rounds.ts';
import { daysToEvaluate, type EvaluateDeps, evaluateDay, evaluateRun } from './evaluate.ts';

const TICK_MS = 5_000;
/** Of one tick, so that the page is never held up for long. */
const MOST_RUNS = 8;
const MOST_DAYS = 8;
/** Samples may come late: a run is worked out again so long after the time before. */
const AGAIN_MS = [120_000, 3_600_000, 86_400_000];
/** Machines are looked at so far back for samples that came late. */
const LOOK_BACK_MS = 182 * 86_400_000;

/** Works out runs that have ended and days of machines, a little at a time. */
export function createEvaluationSchedule(deps: EvaluateDeps, log: Log, now: () => number): Rounds {
  const { records } = deps;
  let nextMachine = 0;

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

  // Readings that cannot be had now are tried for again; the records say what is still to be done.
  return createRounds(
    async () => {
      await runs();
      await days();
    },
    TICK_MS,
    log,
    'runs could not be worked out for trends',
  );
}
