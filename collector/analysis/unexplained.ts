import { recordSpectrum } from '../dsp/hilbert.ts';
import { candidateBands } from '../dsp/kurtogram.ts';
import { jointEvidence } from './background.ts';
import type { Comb } from './comb.ts';
import { envelopeBank } from './envelope-bank.ts';
import { strongestUnexplained } from './explain.ts';
import { ALARM, type Finding, statedChance } from './finding.ts';
import { shaftMask } from './shaft-lines.ts';
import { limitTones } from './tone-limit.ts';

const HARMONICS = 5;
/** Repetitions looked for: from slow shafts to fast bearings. */
const SLOWEST_HZ = 4;
const FASTEST_HZ = 300;
/** Shallower swellings than this are common in sound machines. */
const DEPTH = 0.1;

/**
 * Strikes that repeat at a rate nothing known explains: what can be said when no bearing, or no speed, is given.
 * Steady tones are taken down first, and the shaft's multiples and other known lines are left out where its speed is known.
 */
export function unexplainedStrikes(
  samples: Float64Array,
  sampleRateHz: number,
  shaftHz?: number,
  otherLinesHz?: number[],
): Finding | null {
  const seconds = samples.length / sampleRateHz;
  if (seconds < 20 / SLOWEST_HZ / 2 || sampleRateHz < 8 * FASTEST_HZ) return null;
  const bands = candidateBands(sampleRateHz, { lowestHz: sampleRateHz / 16, narrowestHz: sampleRateHz / 20 });
  const limited = recordSpectrum(limitTones(samples, sampleRateHz), sampleRateHz);
  const bank = envelopeBank(limited, bands, { topHz: HARMONICS * FASTEST_HZ, lineSpacingHz: shaftHz ?? 20 });
  let best: { comb: Comb; surprise: number } | null = null;
  for (const spectrum of bank) {
    const mask =
      shaftHz === undefined
        ? () => false
        : shaftMask({ hz: shaftHz, measured: false, toleranceShare: 0.01 }, spectrum.stepHz, otherLinesHz);
    const comb = strongestUnexplained(
      spectrum,
      4 * SLOWEST_HZ,
      HARMONICS,
      (hz) => mask(hz) || hz > FASTEST_HZ * HARMONICS,
    );
    if (comb === null || comb.lines.length < 3 || comb.fundamentalHz > FASTEST_HZ) continue;
    const places = FASTEST_HZ / spectrum.stepHz;
    const surprise = jointEvidence(comb.evidence, HARMONICS - 1) - Math.log(places * bank.length);
    if (comb.depth >= DEPTH && surprise >= ALARM && surprise > (best?.surprise ?? 0))
      best = { comb, surprise };
  }
  if (best === null) return null;
  return {
    kind: 'unexplained',
    frequencyHz: best.comb.lines[0]!.frequencyHz,
    expectedHz: null,
    harmonics: best.comb.lines.length,
    falseAlarmProbability: statedChance(best.surprise),
    rivals: [],
    modulationDepth: best.comb.depth,
    bandHz: best.comb.spectrum.bandHz,
    note: 'something strikes or swells at this rate; with speed and bearing stated it may be named',
  };
}
