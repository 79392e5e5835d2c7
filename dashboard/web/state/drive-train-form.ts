import type { DriveTrain } from '../../contract/drive-train.ts';

/** What the plain form of a drive train holds, as text. */
export interface TrainFields {
  nominalSpeedRpm: string;
  blades: string;
  /** "1=4.2, 2=2.3" */
  gearRatios: string;
  /** "3.9", or teeth as "11/43" (pinion/wheel). */
  finalDrive: string;
  tyreSize: string;
  bearings: { locationId: number; bearing: string; shaft: string; outerRing: 'standing' | 'turning' }[];
}

/** A field that cannot be used, and why. */
export interface FieldMistake {
  field: string;
  message: string;
}

const ENGINE = 'engine';
const OUTPUT = 'output shaft';
const WHEEL = 'wheel';
const GEARBOX = 'gearbox';
const FINAL_DRIVE = 'final drive';
const FAN = 'blades';

export const usualShafts = (kind: 'vehicle' | 'machine'): string[] =>
  kind === 'vehicle' ? [ENGINE, OUTPUT, WHEEL] : ['shaft'];

/** The drive train as the form shows it. */
export function fieldsOf(train: DriveTrain): Omit<TrainFields, 'bearings'> {
  const gearbox = train.couplings.find(({ name }) => name === GEARBOX);
  const final = train.couplings.find(({ name }) => name === FINAL_DRIVE);
  const ratios = gearbox?.kind === 'ratio' && typeof gearbox.ratio === 'object' ? gearbox.ratio : {};
  return {
    nominalSpeedRpm: train.nominalSpeedRpm === null ? '' : String(train.nominalSpeedRpm),
    blades: String(train.blades.find(({ name }) => name === FAN)?.count ?? ''),
    gearRatios: Object.entries(ratios)
      .map(([gear, ratio]) => `${gear}=${ratio}`)
      .join(', '),
    finalDrive:
      final?.kind === 'gears'
        ? `${final.drivingTeeth}/${final.drivenTeeth}`
        : final?.kind === 'ratio' && typeof final.ratio === 'number'
          ? String(final.ratio)
          : '',
    tyreSize: train.tyre?.size ?? '',
  };
}

/** The drive train that the form describes; parts that the form does not show stay as they were. */
export function trainFromFields(
  kind: 'vehicle' | 'machine',
  before: DriveTrain,
  fields: TrainFields,
): DriveTrain | FieldMistake {
  const shafts = [...new Set([...before.shafts, ...(before.shafts.length > 0 ? [] : usualShafts(kind))])];
  const others = before.couplings.filter(({ name }) => name !== GEARBOX && name !== FINAL_DRIVE);
  const bearings = fields.bearings.filter(({ bearing }) => bearing !== '');
  const train: DriveTrain = { ...before, shafts, bearings };
  if (kind === 'machine') {
    const speed = number(fields.nominalSpeedRpm);
    if (speed !== null && !(speed > 0))
      return mistake('nominalSpeedRpm', 'Give revolutions per minute, e.g. 1460.');
    const count = number(fields.blades);
    if (count !== null && !(Number.isInteger(count) && count >= 2))
      return mistake('blades', 'Give a whole number of blades, 2 or more, or leave it empty.');
    const kept = before.blades.filter(({ name }) => name !== FAN);
    const blades = count === null ? kept : [...kept, { name: FAN, shaft: shafts[0]!, count }];
    return { ...train, nominalSpeedRpm: speed, blades };
  }
  const gears = readGears(fields.gearRatios);
  if (gears === null) return mistake('gearRatios', 'Write gear=ratio pairs, e.g. 1=4.2, 2=2.3, 3=1.45.');
  const final = readFinal(fields.finalDrive);
  if (final === null)
    return mistake('finalDrive', 'Write a ratio, e.g. 3.9, or teeth as pinion/wheel, e.g. 11/43.');
  const needed = [
    ...(gears === 'none' ? [] : [ENGINE, OUTPUT]),
    ...(final === 'none' ? [] : [OUTPUT, WHEEL]),
    ...(fields.tyreSize === '' ? [] : [WHEEL]),
  ];
  const all = [...new Set([...shafts, ...needed])];
  return {
    ...train,
    shafts: all,
    couplings: [
      ...others,
      ...(gears === 'none'
        ? []
        : [{ kind: 'ratio' as const, name: GEARBOX, driving: ENGINE, driven: OUTPUT, ratio: gears }]),
      ...(final === 'none' ? [] : [{ ...final, name: FINAL_DRIVE, driving: OUTPUT, driven: WHEEL }]),
    ],
    tyre: fields.tyreSize === '' ? null : { size: fields.tyreSize, shaft: before.tyre?.shaft ?? WHEEL },
    vehicleSpeeds: {
      ...(all.includes(ENGINE) && { engineSpeedRpm: ENGINE }),
      ...(all.includes(OUTPUT) && { outputSpeedRpm: OUTPUT }),
      ...before.vehicleSpeeds,
    },
  };
}

const mistake = (field: string, message: string): FieldMistake => ({ field, message });

/** Null for an empty field; NaN for text that is no number. A decimal comma is taken. */
function number(text: string): number | null {
  return text.trim() === '' ? null : Number(text.trim().replace(',', '.'));
}

function readGears(text: string): Record<string, number> | 'none' | null {
  if (text.trim() === '') return 'none';
  const ratios: Record<string, number> = {};
  for (const pair of text.split(/[;\n]|,(?=\s*\w+\s*=)/)) {
    const match = /^\s*(\w{1,8})\s*=\s*(\d+(?:[.,]\d+)?)\s*$/.exec(pair);
    if (match === null) return null;
    const ratio = number(match[2]!)!;
    if (!(ratio > 0)) return null;
    ratios[match[1]!] = ratio;
  }
  return ratios;
}

type Final = { kind: 'ratio'; ratio: number } | { kind: 'gears'; drivingTeeth: number; drivenTeeth: number };

function readFinal(text: string): Final | 'none' | null {
  if (text.trim() === '') return 'none';
  const teeth = /^\s*(\d+)\s*\/\s*(\d+)\s*$/.exec(text);
  if (teeth !== null) return { kind: 'gears', drivingTeeth: Number(teeth[1]), drivenTeeth: Number(teeth[2]) };
  const ratio = number(text)!;
  return ratio > 0 ? { kind: 'ratio', ratio } : null;
}
