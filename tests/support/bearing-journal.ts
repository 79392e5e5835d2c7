import type { BearingVerdict } from '../../collector/analysis/index.ts';
import { bearingFromText } from '../../collector/drivetrain/index.ts';
import { journalOf } from '../collector/capture/journal-of.ts';
import { addDefect, healthySignal, type Machine, seededRandom } from './machine-signals.ts';
import { simulatedNode } from './simulated-node.ts';

export const BEARING = '6205';
export const SHAFT_HZ = 25;
const RATE_HZ = 6400;
const SECONDS = 24;

/**
 * A real journal of one sensor with two axes on a machine whose truth is known, ending at `endS`: sound, or with a
 * local defect that the second axis feels half as strongly.
 */
export async function bearingJournal(
  endS: number,
  part: Extract<BearingVerdict, 'outer' | 'inner'> | null,
  nodeId: string,
) {
  const random = seededRandom(4711);
  const machine: Machine = {
    rate: RATE_HZ,
    seconds: SECONDS,
    shaftHz: SHAFT_HZ,
    statedHz: SHAFT_HZ,
    multipliers: bearingFromText(BEARING),
  };
  const sound = healthySignal(machine, random);
  const signal =
    part === null ? sound : addDefect(sound, machine, { part, snrDb: 0, slip: 0, jitter: 0.005 }, random);
  const startS = endS - SECONDS;
  const node = simulatedNode({
    nodeId,
    startS,
    nominalRateHz: RATE_HZ,
    framesPerPacket: 800,
    channels: [
      { sensor: 0, axis: 'x' },
      { sensor: 0, axis: 'z' },
    ],
    signal: (unixS, channel) =>
      (channel === 1 ? 9.81 : 0) +
      (channel === 1 ? 0.5 : 1) * (signal[Math.round((unixS - startS) * RATE_HZ)] ?? 0),
  });
  const packets = Array.from({ length: (SECONDS * RATE_HZ) / 800 }, (_, i) => node.packet(i));
  const exchanges = Array.from({ length: 4 }, (_, i) => node.exchange(1 + 5 * i));
  return journalOf([...packets, ...exchanges]);
}
