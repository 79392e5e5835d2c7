import type { LocationBand } from './level-table.ts';

/** Bands further than this below the strongest one, dB, are background as likely as noise. */
const BELOW_STRONGEST_DB = 15;
/** With quiet windows to compare with, weaker bands are still known to be the noise. */
const BELOW_STRONGEST_MARKED_DB = 25;
/** Above the sensor's own noise by this, as a power ratio (6 dB). */
const ABOVE_FLOOR = 4;

/**
 * Numbers of the bands that hold the noise: without marks those that stand highest at any location, with marks those
 * in which some location rises beyond its quiet windows.
 */
export function bandsOfNoise(table: readonly (readonly LocationBand[])[], unmarked: boolean): number[] {
  const loudest = table[0]!.map((_, b) => {
    const shown = table
      .map((row) => row[b]!)
      .filter((cell) => !cell.atMost && cell.power > ABOVE_FLOOR * cell.floorPower);
    return Math.max(0, ...shown.map(({ power }) => power));
  });
  const least =
    Math.max(...loudest) * 10 ** (-(unmarked ? BELOW_STRONGEST_DB : BELOW_STRONGEST_MARKED_DB) / 10);
  return loudest.flatMap((power, b) => (power > 0 && power >= least ? [b] : []));
}
