import type { DriveTrain } from './model.ts';
import type { ShaftSpeeds } from './speeds.ts';

type LineKind =
  | 'shaft'
  | 'universal-joint'
  | 'gear-mesh'
  | 'gear-sideband'
  | 'blade-pass'
  | 'bearing-outer'
  | 'bearing-inner'
  | 'bearing-ball'
  | 'bearing-cage';

export interface ExpectedLine {
  frequencyHz: number;
  kind: LineKind;
  /** Shaft, coupling or part it comes from. */
  source: string;
  harmonic: number;
  /** For a sideband: the shaft that modulates, and which sideband (-2, -1, 1, 2). */
  sideband?: { shaft: string; number: number };
  /** Rolling elements slip: only a bearing line may lie off its place. */
  slips: boolean;
}

export interface LineOptions {
  /** Orders and harmonics listed. Default 5. */
  harmonics?: number;
  /** Sidebands to each side of a mesh line. Default 2. */
  sidebands?: number;
  /** Nothing above this. */
  highestHz?: number;
}

/**
 * Every line the model lets one expect at these speeds, lowest first. Gear mesh: teeth x shaft, with sidebands at
 * the speed of either shaft; universal joint: twice a turn; blades: count x shaft; bearing: its multipliers x the
 * speed between its rings. Parts on shafts whose speed is not known have no lines.
 * Sources: R. B. Randall, "Vibration-based Condition Monitoring", 2011, ch. 2 (gears, bearings); the joint's twice
 * per turn is the second-order term of Hooke's joint equation.
 */
export function expectedLines(
  train: DriveTrain,
  speeds: ShaftSpeeds,
  options: LineOptions = {},
): ExpectedLine[] {
  const { harmonics = 5, sidebands = 2, highestHz = Number.POSITIVE_INFINITY } = options;
  const lines: ExpectedLine[] = [];
  const family = (kind: LineKind, source: string, hz: number, slips = false) => {
    for (let harmonic = 1; harmonic <= harmonics; harmonic++) {
      lines.push({ frequencyHz: harmonic * hz, kind, source, harmonic, slips });
    }
  };
  for (const [shaft, hz] of speeds.hz) family('shaft', shaft, hz);
  for (const coupling of train.couplings) {
    const driving = speeds.hz.get(coupling.driving);
    const driven = speeds.hz.get(coupling.driven);
    if (coupling.kind !== 'gears' || driving === undefined || driven === undefined) continue;
    const mesh = coupling.drivingTeeth * driving;
    family('gear-mesh', coupling.name, mesh);
    for (let harmonic = 1; harmonic <= harmonics; harmonic++) {
      for (const [shaft, hz] of [[coupling.driving, driving] as const, [coupling.driven, driven] as const]) {
        for (let number = -sidebands; number <= sidebands; number++) {
          if (number === 0) continue;
          const frequencyHz = harmonic * mesh + number * hz;
          const sideband = { shaft, number };
          lines.push({
            frequencyHz,
            kind: 'gear-sideband',
            source: coupling.name,
            harmonic,
            sideband,
            slips: false,
          });
        }
      }
    }
  }
  for (const part of train.parts) {
    const hz = speeds.hz.get(part.shaft);
    if (hz === undefined) continue;
    if (part.kind === 'universal-joint') family('universal-joint', part.name, 2 * hz);
    if (part.kind === 'blades') family('blade-pass', part.name, part.count * hz);
    if (part.kind !== 'bearing') continue;
    const other = part.otherShaft === undefined ? 0 : speeds.hz.get(part.otherShaft);
    if (other === undefined) continue;
    // Both rings turning: the balls see the difference. The cage then carries the mean turning on top.
    const relative = Math.abs(hz - other);
    const m = part.multipliers;
    family('bearing-outer', part.name, m.outer * relative, true);
    family('bearing-inner', part.name, m.inner * relative, true);
    family('bearing-ball', part.name, 2 * m.ballSpin * relative, true);
    family('bearing-cage', part.name, Math.abs(other + m.cage * (hz - other)), true);
  }
  return lines
    .filter((line) => line.frequencyHz > 0 && line.frequencyHz <= highestHz)
    .sort((a, b) => a.frequencyHz - b.frequencyHz);
}

/** Expected lines that could be the one seen: within the resolution, a bearing's within slip as well. */
export function linesNear(
  lines: ExpectedLine[],
  frequencyHz: number,
  toleranceHz: number,
  slip = 0.02,
): ExpectedLine[] {
  const off = (line: ExpectedLine) => Math.abs(line.frequencyHz - frequencyHz);
  return lines
    .filter((line) => off(line) <= toleranceHz + (line.slips ? slip * line.frequencyHz : 0))
    .sort((a, b) => off(a) - off(b));
}
