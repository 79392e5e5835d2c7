import { type JournalReader, type JournalRecord, openJournalReader } from '../broker/journal/index.ts';
import { type CollectorConfig, checkConfig } from './config.ts';
import { CollectorError } from './errors.ts';
import { createPipeline, type Pipeline, type PipelineOptions } from './pipeline/pipeline.ts';
import type { CollectorState } from './publish/collector-state.ts';
import { createPublisher } from './publish/publisher.ts';
import { COMMIT_MS, type Committer, createCommitter } from './run/committer.ts';
import { createPatience, type Problem, problemOf } from './run/patience.ts';
import { createProgress } from './run/progress.ts';
import { isAnotherJournal, recordsNeeded } from './run/restore.ts';
import { openReadingStore, type ReadingStoreDeps } from './store/open-reading-store.ts';
import type { ReadingStore } from './store/reading-store.ts';

/** Where the collector reports what an operator should know. */
interface CollectorLog {
  info(message: string): void;
  warn(message: string): void;
  error(message: string): void;
}

export interface CollectorDeps {
  log: CollectorLog;
  /** In place of the store of the configuration. */
  store?: ReadingStore;
  /** To tag readings with asset and location on their way to a database. */
  mountOf?: ReadingStoreDeps['mountOf'];
  /** To tell a database that many sites share which assets and locations this one has. */
  places?: ReadingStoreDeps['places'];
  /** To tell it what runs came to, condition by condition. */
  levels?: ReadingStoreDeps['levels'];
}

/** A running collector: journal in, readings stored and published. */
export interface Collector {
  state(): CollectorState;
  /** Resolves when the collector has stopped: with the error that stopped it, or null after `close`. */
  readonly stopped: Promise<CollectorError | null>;
  /** Commits what has been read and stops. */
  close(): Promise<void>;
}

const READ_BYTES = 512 * 1024;
const STATE_MS = 2000;
const PRUNE_MS = 10_000;
/** How often the health of nodes that were heard is published. */
const HEALTH_MS = 5000;
const IDLE_MS = 1000;

/** Starts collecting. Throws CollectorError when a setting or the readings file is not usable. */
export async function createCollector(config: CollectorConfig, deps: CollectorDeps): Promise<Collector> {
  const checked = checkConfig(config);
  const { log } = deps;
  const { mountOf, places, levels } = deps;
  const toDatabase = {
    ...(mountOf ? { mountOf } : {}),
    ...(places ? { places } : {}),
    ...(levels ? { levels } : {}),
  };
  const store = deps.store ?? (await openReadingStore(checked, { log, ...toDatabase }));
  const publisher = checked.mqtt && createPublisher(checked.mqtt, checked.site, log.warn);
  const abort = new AbortController();
  const progress = createProgress();
  const patience = createPatience(abort.signal, problemChanged);
  const options: PipelineOptions = {
    band: checked.band,
    maxNodes: checked.maxNodes,
    watches: (nodeId, sensor) => publisher?.isWatched(nodeId, sensor) ?? false,
  };

  let pipeline: Pipeline = createPipeline(options);
  let committer: Committer | null = null;
  let position = 0;
  let endPosition = 0;
  let phase: 'starting' | 'running' | 'stopped' = 'starting';
  let problem: Problem | null = null;
  let skippedBytes = 0;
  let damagedBytes = 0;
  let failedRecords = 0;
  const due = { state: 0, prune: 0, health: 0 };

  function state(): CollectorState {
    const report = progress.report();
    return {
      ...report,
      atMs: Date.now(),
      phase:
        phase === 'stopped'
          ? phase
          : problem !== null
            ? 'waiting'
            : phase === 'running'
              ? report.phase
              : phase,
      lastReadingMs: committer?.lastReadingMs() ?? null,
      mqttConnected: publisher?.isConnected() ?? false,
      counters: {
        ...pipeline.counters(),
        ...(failedRecords > 0 ? { 'record-failed': failedRecords } : {}),
        ...(skippedBytes > 0 ? { 'journal-skipped-bytes': skippedBytes } : {}),
        ...(damagedBytes > 0 ? { 'journal-damaged-bytes': damagedBytes } : {}),
      },
      error: problem,
    };
  }

  function problemChanged(now: Problem | null): void {
    if (now !== null && now.message !== problem?.message) log.warn(`${now.message}. ${now.remedy}`);
    if (now === null) log.info('the collector goes on');
    problem = now;
    publisher?.state(state());
  }

  async function restore(journal: JournalReader): Promise<Committer> {
    position = await store.journalPosition();
    const saved = await store.pipelineState();
    const found = await recordsNeeded(journal, saved);
    pipeline = createPipeline(options, saved, (at) => found.get(at));
    endPosition = await journal.endPosition();
    progress.at(position, endPosition, 0, Date.now());
    const newest = await store.latest();
    publisher?.readings(newest);
    const lastReadingMs = newest.reduce<number | null>(
      (last, r) => Math.max(last ?? r.startMs, r.startMs),
      null,
    );
    const to = createCommitter(store, publisher, patience, { position, lastReadingMs });
    if (await isAnotherJournal(journal, position, pipeline.newestArrivalUs(), { saved, found })) {
      await startOver(to, await journal.oldestPosition());
    }
    return to;
  }

  async function startOver(to: Committer, from: number): Promise<void> {
    log.warn('the journal is another one than before: it is read from its beginning');
    await to.startOver();
    pipeline = createPipeline(options);
    position = from;
  }

  /** A record that the pipeline fails on is a fault of the pipeline: it is counted, and the next one read. */
  function acceptOne(record: JournalRecord, to: Committer): void {
    try {
      const output = pipeline.accept(record);
      to.take(output, progress.isLive());
      publisher?.taps(output.taps);
    } catch (error) {
      if (failedRecords++ === 0)
        log.error(`record at ${record.position} could not be used: ${problemOf(error).message}`);
    }
  }

  /** Reads on and measures; true when there was something. */
  async function advance(journal: JournalReader, to: Committer): Promise<boolean> {
    const read = await journal.read(position, READ_BYTES);
    if (read.journalReplaced) await startOver(to, read.nextPosition);
    skippedBytes += read.skippedBytes;
    damagedBytes += read.damagedBytes;
    // A picture of what happened long ago is no live picture.
    for (const record of read.records) acceptOne(record, to);
    position = read.nextPosition;
    if (read.records.length === 0) await lookBack(journal, to);
    progress.at(position, endPosition, pipeline.newestArrivalUs() / 1000, Date.now());
    return read.records.length > 0;
  }

  /** At the end of the journal, or behind it: what is appended before the position read to is of another journal. */
  async function lookBack(journal: JournalReader, to: Committer): Promise<void> {
    const before = endPosition;
    endPosition = await journal.endPosition();
    if (endPosition >= position || endPosition === before) return;
    if (await isAnotherJournal(journal, position, pipeline.newestArrivalUs())) {
      await startOver(to, await journal.oldestPosition());
    }
  }

  async function housekeeping(journal: JournalReader): Promise<void> {
    const nowMs = Date.now();
    if (nowMs >= due.state) {
      due.state = nowMs + STATE_MS;
      endPosition = await journal.endPosition();
      publisher?.state(state());
    }
    if (nowMs >= due.health) {
      due.health = nowMs + HEALTH_MS;
      publisher?.health(pipeline.health());
    }
    if (nowMs >= due.prune) {
      const more = await store.prune(nowMs);
      due.prune = nowMs + (more ? COMMIT_MS : PRUNE_MS);
    }
  }

  async function work(): Promise<void> {
    const journal = await patience.insist(() => openJournalReader(checked.journalDir));
    if (journal === null) return;
    try {
      const to = await patience.insist(() => restore(journal));
      if (to === null) return;
      committer = to;
      phase = 'running';
      while (!abort.signal.aborted) {
        const more = await patience.insist(() => advance(journal, to));
        await to.commit(pipeline, position, Date.now());
        await patience.insist(() => housekeeping(journal));
        if (more !== false) continue;
        const timeoutMs = to.waiting() ? COMMIT_MS : IDLE_MS;
        await journal.waitForMore(position, { timeoutMs, signal: abort.signal });
      }
      await to.commit(pipeline, position, Date.now(), true);
    } finally {
      await journal.close();
    }
  }

  async function run(): Promise<CollectorError | null> {
    try {
      await work();
      return null;
    } catch (error) {
      problem = problemOf(error);
      log.error(`the collector has stopped: ${problem.message}. ${problem.remedy}`);
      return error instanceof CollectorError
        ? error
        : new CollectorError('COLLECTOR_FAILED', problem.message, error);
    } finally {
      phase = 'stopped';
      await publisher?.close({ ...state(), phase: 'stopped' });
      await store.close();
    }
  }

  const stopped = run();
  return {
    state,
    stopped,
    close: async () => {
      abort.abort();
      await stopped;
    },
  };
}
