import { performance } from 'node:perf_hooks';
import { TimeSource } from '../../firmware-protocol/index.ts';

/** How a virtual node relates its samples to time. */
export type Pace =
  /** Like a board: its own clock, counting from its start, wrong by a little. */
  | { kind: 'live'; clockErrorPpm: number; rateErrorPct: number }
  /** A recording: sample 0 was taken at `startMs`; played `speed` times as fast as it was recorded. */
  | { kind: 'replay'; startMs: number; speed: number };

/** When samples are due, and what the node's clock says of them. */
export interface NodeClock {
  timeSource(): TimeSource;
  /** Called when an exchange of time with the station has succeeded. */
  synced(): void;
  nowUs(): bigint;
  sampleAtUs(counter: number): bigint;
  /** Time left until the sample with this counter has been taken. */
  waitMs(counter: number): number;
}

export function createNodeClock(nominalRateHz: number, pace: Pace): NodeClock {
  const bootMs = performance.now();
  const sinceBootMs = () => performance.now() - bootMs;
  if (pace.kind === 'replay') {
    const takenMs = (counter: number) => (counter / nominalRateHz) * 1e3;
    return {
      timeSource: () => TimeSource.Replay,
      synced: () => undefined,
      nowUs: () => microseconds(pace.startMs + sinceBootMs() * pace.speed),
      sampleAtUs: (counter) => microseconds(pace.startMs + takenMs(counter)),
      waitMs: (counter) => Math.max(0, takenMs(counter) / pace.speed - sinceBootMs()),
    };
  }
  const trueRateHz = nominalRateHz * (1 + pace.rateErrorPct / 100);
  const clockFactor = 1 + pace.clockErrorPpm * 1e-6;
  const takenMs = (counter: number) => (counter / trueRateHz) * 1e3;
  let source: TimeSource = TimeSource.Free;
  return {
    timeSource: () => source,
    synced: () => {
      source = TimeSource.Synced;
    },
    nowUs: () => microseconds(sinceBootMs() * clockFactor),
    sampleAtUs: (counter) => microseconds(takenMs(counter) * clockFactor),
    waitMs: (counter) => Math.max(0, takenMs(counter) - sinceBootMs()),
  };
}

function microseconds(ms: number): bigint {
  return BigInt(Math.round(ms * 1e3));
}
