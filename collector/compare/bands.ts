/** A band of frequencies with its name. */
export interface Band {
  /** Rounded middle, as bands are called: 125, 160, 200 ... */
  nominalHz: number;
  centreHz: number;
  fromHz: number;
  toHz: number;
}

/** Nominal middles of one decade of third octaves (ISO 266, R10 preferred numbers). */
const NOMINAL = [1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8];

/**
 * Third-octave bands, base ten, that lie whole between two frequencies. Exact middle of band x is
 * 1000 x 10^(x/10) Hz, its edges are the middle times 10^(-1/20) and 10^(1/20).
 * Source: IEC 61260-1:2014, 5.2 to 5.5 (octave ratio 10^(3/10)), formulas from memory. Levels are worked out by
 * adding up a power spectral density between the edges, so the filter shapes of that standard do not apply.
 */
export function thirdOctaves(fromHz: number, toHz: number): Band[] {
  if (!(fromHz > 0)) throw new RangeError(`third octaves need a lowest frequency over 0 Hz, got ${fromHz}`);
  const bands: Band[] = [];
  const first = Math.ceil(10 * Math.log10(fromHz / 1000) + 0.5 - 1e-9);
  const last = Math.floor(10 * Math.log10(toHz / 1000) - 0.5 + 1e-9);
  for (let x = first; x <= last; x++) {
    const decade = Math.floor(x / 10);
    bands.push({
      nominalHz: Number((NOMINAL[x - 10 * decade]! * 10 ** (decade + 3)).toPrecision(3)),
      centreHz: 1000 * 10 ** (x / 10),
      fromHz: 1000 * 10 ** ((x - 0.5) / 10),
      toHz: 1000 * 10 ** ((x + 0.5) / 10),
    });
  }
  return bands;
}
