import type { BlockSpectrum, LiveBlock, Reading } from '../model.ts';
import type { Pipeline, PipelineOutput } from '../pipeline/pipeline.ts';
import type { Publisher } from '../publish/publisher.ts';
import type { ReadingStore, StateRows } from '../store/reading-store.ts';
import type { Patience } from './patience.ts';

/** Readings wait at most so long for company in a commit. */
export const COMMIT_MS = 200;
/**
 * The journal position and the pipeline's state go with a commit this often. Readings committed in between are made
 * again after a crash and found to be there already.
 */
const CHECKPOINT_MS = 1000;

/** Takes the pipeline's output to the store, and then to whoever listens. */
export interface Committer {
  take(output: PipelineOutput, withLive: boolean): void;
  /** Commits if it is time; `position` is where the journal was read to by this pipeline. */
  commit(pipeline: Pipeline, position: number, nowMs: number, force?: boolean): Promise<void>;
  /** Forgets what was not committed: its journal is not there any more. */
  startOver(): Promise<void>;
  waiting(): boolean;
  lastReadingMs(): number | null;
}

export function createCommitter(
  store: ReadingStore,
  publisher: Publisher | null,
  patience: Patience,
  start: { position: number; lastReadingMs: number | null },
): Committer {
  let { position: savedPosition, lastReadingMs } = start;
  let readings: Reading[] = [];
  let spectra: BlockSpectrum[] = [];
  let live: LiveBlock[] = [];
  /** Rows of another journal's state, deleted with the next state. */
  let staleKeys: string[] = [];
  let lost = false;
  const due = { commit: 0, checkpoint: 0 };

  function stateOf(pipeline: Pipeline): StateRows {
    const { set, remove } = pipeline.checkpoint();
    const fresh = new Set(set.map(([key]) => key));
    return { set, remove: [...remove, ...staleKeys.filter((key) => !fresh.has(key))] };
  }

  return {
    take(output, withLive) {
      readings.push(...output.readings);
      spectra.push(...output.spectra);
      if (withLive) live.push(...output.live);
    },
    async commit(pipeline, position, nowMs, force = false) {
      // After a commit that was given up the state on disk is older than the pipeline: a restart makes it good.
      if (lost) return;
      const checkpoint = force || (nowMs >= due.checkpoint && position !== savedPosition);
      if (!checkpoint && (readings.length === 0 || nowMs < due.commit)) return;
      const state = checkpoint ? stateOf(pipeline) : undefined;
      const at = checkpoint ? position : savedPosition;
      const done = await patience.insist(async () => {
        await store.commit(readings, at, state, spectra);
        return true;
      });
      if (done === null) {
        lost = true;
        return;
      }
      savedPosition = at;
      if (checkpoint) {
        staleKeys = [];
        due.checkpoint = nowMs + CHECKPOINT_MS;
      }
      due.commit = nowMs + COMMIT_MS;
      for (const { startMs } of readings) lastReadingMs = Math.max(lastReadingMs ?? startMs, startMs);
      publisher?.readings(readings);
      publisher?.live(live);
      readings = [];
      spectra = [];
      live = [];
    },
    async startOver() {
      staleKeys = (await store.pipelineState()).map(([key]) => key);
      readings = [];
      spectra = [];
      live = [];
    },
    waiting: () => readings.length > 0,
    lastReadingMs: () => lastReadingMs,
  };
}
