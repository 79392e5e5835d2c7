import { recordSpectrum } from '../dsp/hilbert.ts';
import { candidateBands } from '../dsp/kurtogram.ts';
import type { BearingQuestion } from './bearing-defect.ts';
import { type BearingFamily, bearingFamilies } from './bearing-families.ts';
import { bestComb, type Comb } from './comb.ts';
import { type EnvelopeLines, envelopeBank, recordLines } from './envelope-bank.ts';
import { ALARM } from './finding.ts';
import { refineShaftSpeed, type ShaftSpeed, shaftMask } from './shaft-lines.ts';
import { limitTones } from './tone-limit.ts';

/** Rolling elements slip: a line may lie this far from its kinematic place, as a share. */
export const SLIP = 0.02;
/** Harmonics tested of each family. */
export const HARMONICS = 5;
/** A stated speed leaves this much for the confirming look at a comb already found. */
const CONFIRM_SHARE = 0.003;
/** So much of a comb's depth has to be left when the tones are taken down. */
const LEFT_SHARE = 0.3;

export interface Candidate {
  family: BearingFamily;
  /** Best comb over all spectra searched. */
  comb: Comb;
  /** -ln of the chance from noise, corrected for slip, harmonics, bands, resolutions and families searched. */
  surprise: number;
  /** The same comb with the record's steady tones taken down; null where too little is left of it. */
  confirmed: Comb | null;
}

export interface BearingSearch {
  candidates: Candidate[];
  families: BearingFamily[];
  speed: ShaftSpeed;
  bank: EnvelopeLines[];
  mask(spectrum: EnvelopeLines): (frequencyHz: number) => boolean;
}

/** Bands to search for a bearing: above the shaft's own orders, wide enough to hold its harmonics. */
export function searchBands(question: BearingQuestion, highestHz: number): [number, number][] {
  if (question.bandHz !== undefined) return [question.bandHz];
  return candidateBands(question.sampleRateHz, {
    lowestHz: Math.min(
      question.sampleRateHz / 8,
      Math.max(0.02 * question.sampleRateHz, 10 * question.shaftHz),
    ),
    // An envelope band narrower than twice the highest harmonic tested raises false alarms: two harmonics at least.
    narrowestHz: 4 * highestHz * (1 + SLIP),
    ...(question.sensorBandwidthHz === undefined ? {} : { highestHz: question.sensorBandwidthHz }),
  });
}

/** Looks for every family's comb in every band. */
export function searchBearing(question: BearingQuestion): BearingSearch {
  const { samples, sampleRateHz, shaftHz, multipliers } = question;
  const stated = bearingFamilies(multipliers, shaftHz);
  const highestHz = Math.max(...stated.map((family) => family.expectedHz));
  const bands = searchBands(question, highestHz);
  const options = {
    topHz: (HARMONICS + 0.5) * highestHz * (1 + SLIP),
    lineSpacingHz: shaftHz,
    ...(question.speed === undefined ? {} : { speed: question.speed }),
  };
  const bank = envelopeBank(recordSpectrum(samples, sampleRateHz), bands, options);
  const finest = bank.filter((spectrum) => spectrum.averages === 1);
  // Under a speed channel the record itself would have to be turned as well; the envelopes are.
  const orders = question.speed === undefined ? recordLines(samples, sampleRateHz, options) : null;
  const speed = refineShaftSpeed(orders, finest, shaftHz);
  const mask = (spectrum: EnvelopeLines) => shaftMask(speed, spectrum.stepHz, question.otherLinesHz);

  const limited = limitedRecord(question);
  const kept = new Map<string, EnvelopeLines[]>();
  const limitedBank = (bandHz: [number, number]): EnvelopeLines[] => {
    const key = bandHz.join();
    const spectra = kept.get(key) ?? envelopeBank(limited(), [bandHz], limitedOptions(options, question));
    kept.set(key, spectra);
    return spectra;
  };

  const families = bearingFamilies(multipliers, speed.hz);
  const candidates = families.flatMap((family): Candidate[] => {
    const comb = bestOver(bank, mask, family.expectedHz * (1 - SLIP), family.expectedHz * (1 + SLIP));
    if (comb === null) return [];
    const surprise = Math.max(0, comb.surprise - Math.log(bank.length * families.length));
    const from = comb.fundamentalHz * (1 - CONFIRM_SHARE);
    const to = comb.fundamentalHz * (1 + CONFIRM_SHARE);
    const slipping = surprise > 0 ? bestOver(limitedBank(comb.spectrum.bandHz), mask, from, to) : null;
    const weak = slipping === null || slipping.surprise < ALARM || slipping.depth < LEFT_SHARE * comb.depth;
    return [{ family, comb, surprise, confirmed: weak ? null : slipping }];
  });
  return { candidates, families, speed, bank, mask };
}

function bestOver(
  spectra: EnvelopeLines[],
  mask: (spectrum: EnvelopeLines) => (frequencyHz: number) => boolean,
  fromHz: number,
  toHz: number,
): Comb | null {
  let best: Comb | null = null;
  for (const spectrum of spectra) {
    const comb = bestComb(spectrum, { fromHz, toHz, harmonics: HARMONICS, taken: mask(spectrum) });
    if (comb !== null && (best === null || comb.surprise > best.surprise)) best = comb;
  }
  return best;
}

/** The record with tones taken down, made at first use: most healthy records never need it. */
function limitedRecord(question: BearingQuestion) {
  let record: ReturnType<typeof recordSpectrum> | null = null;
  return () => {
    record ??= recordSpectrum(limitTones(question.samples, question.sampleRateHz), question.sampleRateHz);
    return record;
  };
}

/** Taking tones down cuts the first eighth off: the speed channel's clock moves by as much. */
function limitedOptions<T extends { speed?: BearingQuestion['speed'] }>(
  options: T,
  question: BearingQuestion,
): T {
  if (options.speed === undefined) return options;
  const n = question.samples.length - (question.samples.length % 2);
  const shift = Math.floor(n / 8) / question.sampleRateHz;
  return { ...options, speed: { ...options.speed, timeS: options.speed.timeS.map((t) => t - shift) } };
}
