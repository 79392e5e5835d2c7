import { type JournalPins, openJournalPins } from '../../../collector/index.ts';
import type { Log } from '../config.ts';
import type { RecordStore } from '../records/record-store.ts';
import { cleanRecordings } from './recording-files.ts';

/** Keeps the raw samples of runs: a pin in the journal for each kept run, and an end for runs left open. */
export interface RunKeeper {
  /** Brings the pins in line with the records; called after every change by itself. */
  settle(): Promise<void>;
  close(): Promise<void>;
}

/** Clocks and rates settle in what came before; samples may arrive some time after they were taken. */
const BEFORE_MS = 150_000;
const AFTER_MS = 90_000;
/** Nobody drives a test that long without a stop: the run was left open, and would keep every sample from then on. */
const LONGEST_RUN_MS = 4 * 3_600_000;
const LOOK_EVERY_MS = 60_000;
const PIN = /^run-(\d+)$/;

export function createRunKeeper(
  records: RecordStore,
  { journalDir, recordingsDir }: { journalDir?: string; recordingsDir?: string },
  log: Log,
  now: () => number,
): RunKeeper {
  const pins = journalDir === undefined ? null : openJournalPins(journalDir);
  let turn: Promise<void> = Promise.resolve();
  let failing = false;

  function endForgotten(): void {
    for (const run of records.runs.list()) {
      if (run.endMs !== null || now() - run.startMs < LONGEST_RUN_MS) continue;
      records.runEvents.endManoeuvres(run.id, run.startMs + LONGEST_RUN_MS);
      records.runs.end(run.id, run.startMs + LONGEST_RUN_MS);
      log.warn(`run ${run.id} was left open for 4 hours and has been ended`);
    }
  }

  async function settleOnce(): Promise<void> {
    try {
      endForgotten();
      if (pins !== null) await settlePins(records, pins);
      await cleanRecordings(recordingsDir, records.recordings.inUse());
      failing = false;
    } catch (error) {
      // The next look tries again; a run without its pin keeps its samples as long as the journal keeps any.
      if (!failing) log.error(`the raw samples of runs cannot be pinned: ${(error as Error).message}`);
      failing = true;
    }
  }

  function settle(): Promise<void> {
    turn = turn.then(settleOnce);
    return turn;
  }

  const stopListening = records.onChange((change) => {
    if (change.kind === 'run' || change.kind === 'assets') void settle();
  });
  const timer = setInterval(() => void settle(), LOOK_EVERY_MS);
  timer.unref();
  void settle();
  return {
    settle,
    async close() {
      stopListening();
      clearInterval(timer);
      await turn;
    },
  };
}

async function settlePins(records: RecordStore, pins: JournalPins): Promise<void> {
  const wanted = new Map(
    records.runs
      .list()
      .filter(({ kept, source }) => kept && source === 'station')
      .map(({ id, startMs, endMs }) => [
        `run-${id}`,
        { fromMs: startMs - BEFORE_MS, toMs: endMs === null ? null : endMs + AFTER_MS },
      ]),
  );
  const there = new Map((await pins.list()).map((pin) => [pin.name, pin]));
  for (const [name, span] of wanted) {
    const pin = there.get(name);
    if (pin?.fromMs !== span.fromMs || pin.toMs !== span.toMs) await pins.put({ name, ...span });
  }
  for (const name of there.keys()) if (PIN.test(name) && !wanted.has(name)) await pins.remove(name);
}
