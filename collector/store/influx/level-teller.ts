import { droppedAsTooOld, type InfluxClient } from './client.ts';
import { type LevelPoint, levelLine } from './level-points.ts';

/** Levels of a station's runs, where they are kept. */
export interface LevelSource {
  /** Up to `limit` with a larger number, smallest first. */
  after(id: number, limit: number): LevelPoint[];
  /** Largest number given so far; 0 before the first. */
  newest(): number;
  /** Of runs that people keep out of trends, by the number of the run. */
  leftOutRuns(): number[];
  ofRun(runId: number): LevelPoint[];
}

/** Up to which number the database was told, kept over restarts. */
export interface Told {
  get(): number;
  set(id: number): void;
}

const BATCH = 500;

/** Tells the database what is new since it was told last; telling twice changes nothing there. */
export function createLevelTeller(client: InfluxClient, site: string, source: LevelSource, told: Told) {
  let leftOut: ReadonlySet<number> = new Set();
  async function tell(points: readonly LevelPoint[]): Promise<void> {
    try {
      // In the bucket that keeps longest.
      await client.write(
        'hour',
        points.map((point) => levelLine(site, point)),
      );
    } catch (error) {
      // Runs from before its time will never be there; it has taken the others.
      if (droppedAsTooOld(error) === null) throw error;
    }
  }

  return async function look(): Promise<void> {
    // Records from a backup begin to count again where they were.
    if (told.get() > source.newest()) told.set(0);
    for (;;) {
      const points = source.after(told.get(), BATCH);
      if (points.length === 0) break;
      await tell(points);
      told.set(points.at(-1)!.id);
    }
    const now = new Set(source.leftOutRuns());
    // One that was taken in again while nobody looked is told with its next change only.
    const changed = [...new Set([...now, ...leftOut])].filter((run) => now.has(run) !== leftOut.has(run));
    const points = changed.flatMap((run) => source.ofRun(run));
    for (let at = 0; at < points.length; at += BATCH) await tell(points.slice(at, at + BATCH));
    leftOut = now;
  };
}
