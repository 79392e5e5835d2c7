import { connectionOf, kindOf } from './connections.ts';
import type { Doubt } from './doubts.ts';
import { NEXT_MEASUREMENTS } from './next-measurement.ts';
import type { Connection, DoubtCode, Evidence, NextMeasurementCode, Verdict } from './result.ts';

type Names = ReadonlyMap<string, string>;

/** "Rear axle leads at 400-900 Hz by 6.2 ± 1.1 dB in 18 of 20 windows; what the gearbox shows ..." */
export function leadSentence(evidence: Evidence, found: Verdict, names: Names): string {
  const name = names.get(found.locationId!)!;
  const line = evidence.defectLine;
  const parts: string[] = [];
  if (found.bandHz !== null) {
    const [low, high] = found.bandHz.map(roundedHz);
    parts.push(
      `${capital(name)} leads at ${low}-${high} Hz by ${found.leadDb!.toFixed(1)} ± ${found.uncertaintyDb!.toFixed(1)} dB ` +
        `in ${found.windowsLed} of ${found.windows} windows`,
    );
    const link = connectionOf(evidence.connections, found.locationId!, found.againstId!);
    const said =
      link === undefined ? null : connectionWords(link, evidence, found.bandHz, names.get(found.againstId!)!);
    if (said !== null) parts.push(said);
  }
  if (line !== null && line.witness?.leaderId === found.locationId) {
    const lead = Math.min(...line.witness!.pairs.map(({ db }) => db));
    const at = `${line.frequencyHz.toFixed(1)} Hz`;
    parts.push(
      found.bandHz === null
        ? `The defect's line at ${at} is largest at the ${name}, by ${lead.toFixed(1)} dB or more`
        : `the defect's line at ${at} is largest there too, by ${lead.toFixed(1)} dB or more`,
    );
  }
  if (found.by === 'defect-line') {
    const loudest = evidence.level?.foremostId;
    if (loudest !== undefined && loudest !== found.locationId) {
      parts.push(
        `by level the ${names.get(loudest)} is ahead, but the loudest place is not always the source`,
      );
    }
  }
  return `${parts.join('; ')}.`;
}

/** "Not clear: <reasons>. To settle it, <next measurement>." */
export function unclearSentence(
  evidence: Evidence,
  doubts: readonly Doubt[],
  next: NextMeasurementCode,
  names: Names,
): string {
  const reasons = doubts.map((doubt) => doubtWords(doubt, evidence, names));
  return `Not clear: ${reasons.join('; ')}. To settle it, ${NEXT_MEASUREMENTS[next]}.`;
}

function doubtWords({ code, pair }: Doubt, evidence: Evidence, names: Names): string {
  const first = names.get(pair?.locationId ?? '');
  const second = names.get(pair?.againstId ?? '');
  const bands = Math.max(1, Math.round(pair?.effectiveBands ?? 0));
  const words: Record<DoubtCode, string> = {
    'too-few-windows': `only ${evidence.windows.length} windows can be compared`,
    'nothing-stands-out': 'the noise stands out of the background at no location',
    'few-bands': `nearly all of the noise is in ${bands} third octave${bands === 1 ? '' : 's'}, where a resonance on the path could make the ${first} louder than the ${second}`,
    'reversal-shared': `the ${first} leads in some bands and the ${second} in ${pair?.reversed} of ${pair?.bands}, as a resonance on a path or a common cause would do`,
    'reversal-separate': `the ${first} and the ${second} lead in different bands and do not show the same: there may be two noises`,
    'within-uncertainty': `the ${first} is ${pair?.db.toFixed(1)} dB ahead of the ${second}, which sensors and paths could do by themselves`,
    'line-unclear': "the defect's line is not clearly largest at one location",
    'witnesses-differ': "the defect's line leans to another location than the levels",
  };
  return words[code];
}

function connectionWords(
  { coherence, comodulation, kind }: Connection,
  { bands }: Evidence,
  [low, high]: readonly [number, number],
  other: string,
): string | null {
  if (coherence !== null) {
    // Of the bands spoken of, not of all bands of the noise.
    const inside = coherence.byBand.filter(
      (_, b) => bands[b]!.fromHz > 0.99 * low && bands[b]!.toHz < 1.01 * high,
    );
    const mean = inside.reduce((sum, value) => sum + value, 0) / inside.length;
    const value = mean.toFixed(2);
    const here = kindOf(mean, coherence.chanceLimit);
    if (here === 'shared')
      return `what the ${other} shows there is coherent with it (${value}), so likely carried over`;
    if (here === 'partly') return `what the ${other} shows there is partly coherent with it (${value})`;
    return `what the ${other} shows there is not coherent with it (${value}), so its own`;
  }
  if (comodulation === null || kind === 'unknown') return null;
  const clocks = `r = ${comodulation.correlation.toFixed(2)}, clocks within ${comodulation.clockErrorMs.toFixed(0)} ms`;
  return `the level of the ${other} ${kind === 'shared' ? 'rises and falls' : 'partly rises and falls'} with it (${clocks})`;
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
const roundedHz = (hz: number) => Number(hz.toPrecision(2));
