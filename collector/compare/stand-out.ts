import type { LocationBand } from './level-table.ts';

/** Bands further than this below the strongest one, dB, are background as likely as noise. */
const BELOW_STRONGEST_DB = 15;
/** With quiet windows to compare with, weaker bands are still known to be the noise. */
const BELOW_STRONGEST_MARKED_DB = 25;
/** Above the sensor's own noise by this, as a power ratio (6 dB). */
const ABOVE_FLOOR = 4;

export interface NoiseBand {
  /** Number of the band. */
  band: number;
  /** Power over that of the strongest band, at whichever location shows most. */
  powerShare: number;
}

/**
 * The bands that hold the noise: without quiet windows those that stand highest at any location, with them those in
 * which some location rises beyond its quiet windows.
 */
export function bandsOfNoise(table: readonly (readonly LocationBand[])[], marked: boolean): NoiseBand[] {
  const loudest = table[0]!.map((_, b) => {
    const shown = table
      .map((row) => row[b]!)
      .filter((cell) => !cell.atMost && cell.power > ABOVE_FLOOR * cell.floorPower);
    return Math.max(0, ...shown.map(({ power }) => power));
  });
  const strongest = Math.max(...loudest);
  const least = strongest * 10 ** (-(marked ? BELOW_STRONGEST_MARKED_DB : BELOW_STRONGEST_DB) / 10);
  return loudest.flatMap((power, band) =>
    power > 0 && power >= least ? [{ band, powerShare: power / strongest }] : [],
  );
}
