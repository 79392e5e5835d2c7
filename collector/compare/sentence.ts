import { connectionOf } from './connections.ts';
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
    const said = link === undefined ? null : connectionWords(link, names.get(found.againstId!)!);
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

/** "Not clear: ... Next: ..." */
export function unclearSentence(
  evidence: Evidence,
  doubts: readonly DoubtCode[],
  next: NextMeasurementCode,
  names: Names,
): string {
  const { level } = evidence;
  const hardest = level?.pairs.filter(({ holds }) => !holds).sort((a, b) => a.db - b.db)[0];
  const first = hardest === undefined ? '' : names.get(hardest.locationId)!;
  const second = hardest === undefined ? '' : names.get(hardest.againstId)!;
  const words: Record<DoubtCode, string> = {
    'too-few-windows': `only ${evidence.windows.length} windows can be compared`,
    'nothing-stands-out': 'the noise stands out of the background at no location',
    'few-bands': `the noise is in ${hardest?.bands} third octave${hardest?.bands === 1 ? '' : 's'} only, where a resonance on the path could make the ${first} louder than the ${second}`,
    'reversal-shared': `the ${first} leads in some bands and the ${second} in ${hardest?.reversed} of ${hardest?.bands}, as a resonance on a path or a common cause would do`,
    'reversal-separate': `the ${first} and the ${second} lead in different bands and do not show the same: there may be two noises`,
    'within-uncertainty': `the ${first} is ${hardest?.db.toFixed(1)} dB ahead of the ${second}, which sensors and paths could do by themselves`,
    'line-unclear': "the defect's line is not clearly largest at one location",
    'witnesses-differ': "the defect's line leans to another location than the levels",
  };
  return `Not clear: ${doubts.map((code) => words[code]).join('; ')}. To settle it, ${NEXT_MEASUREMENTS[next]}.`;
}

function connectionWords({ coherence, comodulation, kind }: Connection, other: string): string | null {
  if (coherence !== null) {
    const value = coherence.mean.toFixed(2);
    if (kind === 'shared')
      return `what the ${other} shows there is coherent with it (${value}), so likely carried over`;
    if (kind === 'partly') return `what the ${other} shows there is partly coherent with it (${value})`;
    return `what the ${other} shows there is not coherent with it (${value}), so its own`;
  }
  if (comodulation === null || kind === 'unknown') return null;
  const clocks = `r = ${comodulation.correlation.toFixed(2)}, clocks within ${comodulation.clockErrorMs.toFixed(0)} ms`;
  return `the level of the ${other} ${kind === 'shared' ? 'rises and falls' : 'partly rises and falls'} with it (${clocks})`;
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
const roundedHz = (hz: number) => Number(hz.toPrecision(2));
