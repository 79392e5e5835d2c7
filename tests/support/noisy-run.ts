import { gaussian } from '../../dashboard/virtual/synth/random.ts';
import { type SentMessage, seeded, simulatedNode } from './simulated-node.ts';

export const AXLE_BOARD = '00000000000000a1';
export const GEARBOX_BOARD = '00000000000000b2';
export const SECONDS = 60;
/** The noise is there from second 20 to second 35. */
const noisy = (s: number) => s >= 20 && s < 35;

/**
 * Two boards, three places. The noise (random, all frequencies) is made at the axle and reaches the gearbox, on the other
 * board, and the wheel, on the same board, weaker; each place has its own background, and the axle a 200 Hz tone.
 */
export function noisyRun(
  startS: number,
  axleBoard = AXLE_BOARD,
  gearboxBoard = GEARBOX_BOARD,
): SentMessage[] {
  const noise = gaussian(5);
  const shared = new Map<number, number>();
  // The source as a function of time: one value per 1/3200 s, the same for every board.
  const sourceAt = (unixS: number) => {
    const k = Math.round((unixS - startS) * 3200);
    let value = shared.get(k);
    if (value === undefined) {
      value = noisy(k / 3200) ? noise() : 0;
      shared.set(k, value);
    }
    return value;
  };
  const background = gaussian(9);
  const tone = (unixS: number) => 0.5 * Math.SQRT2 * Math.sin(2 * Math.PI * 200 * (unixS - startS));
  const common = { startS, fullScaleMPerS2: 40 };
  const axle = simulatedNode({
    ...common,
    nodeId: axleBoard,
    channels: [
      { sensor: 0, axis: 'x' },
      { sensor: 1, axis: 'x' },
    ],
    signal: (at, channel) =>
      channel === 0
        ? 2 * sourceAt(at) + 0.1 * background() + tone(at)
        : 0.5 * sourceAt(at) + 0.1 * background(),
  });
  const gearbox = simulatedNode({
    ...common,
    nodeId: gearboxBoard,
    bootId: 8,
    random: seeded(4),
    signal: (at) => 0.4 * sourceAt(at) + 0.1 * background(),
  });
  return [axle, gearbox].flatMap((node) => [
    ...Array.from({ length: node.packetsIn(SECONDS) }, (_, i) => node.packet(i)),
    ...Array.from({ length: 12 }, (_, i) => node.exchange(0.5 + 5 * i)),
  ]);
}
