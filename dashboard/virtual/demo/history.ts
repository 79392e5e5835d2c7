/**
 * Twenty weeks before today: when the demo's nodes took a short capture, how fast the bus drove, and how far wear had
 * gone. Only raw samples come from here; what is measured and concluded is the station's work.
 */
import type { BoardModel } from '../synth/board.ts';
import { busAtSteadySpeed, gearAt } from '../synth/operating.ts';
import { gaussian, uniform } from '../synth/random.ts';
import { type DemoState, demoAssets } from './scenario.ts';

const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
const WEEKS = 20;
const DAYS = 7 * WEEKS;
/** Long enough for ten good seconds and more, with the filter's settling taken off. */
const CAPTURE_S = 18;

/** One capture of all boards of an asset that have a history. */
export interface PastCapture {
  assetName: string;
  startMs: number;
  seconds: number;
  /** Null for the fan, which needs no run: it always turns alike. */
  drive: { speedKmH: number; load: number; gear: number; engineRpm: number } | null;
  boards: { nodeId: string; model: BoardModel }[];
}

/** Where the history begins, for a demo that is set up at `nowMs`. */
export const historyBegin = (nowMs: number): number => Math.floor(nowMs / DAY_MS) * DAY_MS - DAYS * DAY_MS;

/** Captures in order of time; the same ones for the same begin, so that an interrupted filling can be taken up. */
export function* demoHistory(beginMs: number): Generator<PastCapture> {
  for (let day = 0; day < DAYS; day++) {
    const dayMs = beginMs + day * DAY_MS;
    const random = uniform(77 + day);
    const scatter = gaussian(7 + day);
    const state = (): DemoState => ({
      bearingWear: bearingWear(day / DAYS),
      fanUnbalance: fanUnbalance(day / DAYS),
      day: 1 + 0.05 * scatter(),
      seed: day + 1,
    });
    // On three days a week each bus is held at one of two speeds for a while, on the way to the depot.
    if ([0, 2, 4].includes(day % 7)) {
      for (const bus of [1, 2, 3]) {
        const speedKmH = (random() < 0.5 ? 54 : 74) + 2 * (random() - 0.5);
        const extraLoad = 0.06 * (random() - 0.5);
        const ofDay = state();
        // Bus 2 stood in the workshop for two weeks, for its brakes.
        if (bus === 2 && day >= 56 && day < 70) continue;
        const operatingAt = busAtSteadySpeed(speedKmH, extraLoad);
        const { load, engineHz } = operatingAt(0);
        yield {
          assetName: `Bus ${bus}`,
          startMs: dayMs + 5 * HOUR_MS + bus * 1_200_000,
          seconds: CAPTURE_S,
          drive: { speedKmH, load, gear: gearAt(speedKmH), engineRpm: 60 * engineHz },
          boards: boardsOf(`Bus ${bus}`, ofDay)
            // The sound buses are heard at the gearbox only: they are there to compare with.
            .filter(({ nodeId }) => bus === 2 || nodeId.endsWith('01'))
            .map((board) => ({ ...board, model: { ...board.model, operatingAt } })),
        };
      }
    }
    // Nobody switches the fan on at weekends.
    if (day % 7 < 5) {
      const assetName = 'Workshop extraction fan';
      const boards = boardsOf(assetName, state());
      yield { assetName, startMs: dayMs + 9 * HOUR_MS, seconds: CAPTURE_S, drive: null, boards };
    }
  }
}

/** Nothing for seven weeks, then more and more. */
function bearingWear(share: number): number {
  const grown = Math.max(0, share - 0.35) / 0.65;
  return 0.06 + 0.94 * grown ** 2;
}

/** Dust settles on the blades from the eighth week on. */
function fanUnbalance(share: number): number {
  return 0.45 + (0.55 * Math.max(0, share - 0.4)) / 0.6;
}

function boardsOf(assetName: string, state: DemoState): { nodeId: string; model: BoardModel }[] {
  return demoAssets(state).find(({ name }) => name === assetName)!.boards;
}
