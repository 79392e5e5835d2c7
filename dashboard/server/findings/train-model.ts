import {
  bearingFromText,
  type DriveTrain,
  driveTrainMistakes,
  tyreCircumferenceM,
} from '../../../collector/index.ts';
import type { DriveTrain as EnteredTrain } from '../../contract/drive-train.ts';
import { Refusal } from '../errors.ts';

/** What people entered, as the analysis asks for it. Bearings stay apart: they belong to locations. */
export function trainModel(entered: EnteredTrain): DriveTrain {
  const { shafts, couplings, universalJoints, blades, tyre } = entered;
  return {
    shafts,
    couplings,
    parts: [
      ...universalJoints.map((joint) => ({ kind: 'universal-joint' as const, ...joint })),
      ...blades.map((set) => ({ kind: 'blades' as const, ...set })),
      ...(tyre === null
        ? []
        : [
            {
              kind: 'wheel' as const,
              name: 'tyre',
              shaft: tyre.shaft,
              circumferenceM: tyreCircumferenceM(tyre.size),
            },
          ]),
    ],
  };
}

/** Refuses the first mistake, with the path of its field. */
export function checkTrain(entered: EnteredTrain, locationIds: ReadonlySet<number>): void {
  const { shafts, couplings, universalJoints, blades, tyre, vehicleSpeeds, bearings } = entered;
  const bare: DriveTrain = { shafts, couplings: [], parts: [] };
  refuse('shafts', driveTrainMistakes(bare)[0]);
  couplings.forEach((coupling, i) => {
    refuse(`couplings.${i}`, driveTrainMistakes({ ...bare, couplings: [coupling] })[0]);
  });
  universalJoints.forEach((joint, i) => {
    const parts = [{ kind: 'universal-joint' as const, ...joint }];
    refuse(`universalJoints.${i}`, driveTrainMistakes({ ...bare, parts })[0]);
  });
  blades.forEach((set, i) => {
    refuse(`blades.${i}`, driveTrainMistakes({ ...bare, parts: [{ kind: 'blades' as const, ...set }] })[0]);
  });
  const known = new Set(shafts);
  const need = (field: string, shaft: string) =>
    refuse(field, known.has(shaft) ? undefined : `the shaft "${shaft}" is not in the list of shafts`);
  if (tyre !== null) {
    refuse(
      'tyre.size',
      complaintOf(() => tyreCircumferenceM(tyre.size)),
    );
    need('tyre.shaft', tyre.shaft);
  }
  for (const [quantity, shaft] of Object.entries(vehicleSpeeds)) need(`vehicleSpeeds.${quantity}`, shaft);
  const taken = new Set<number>();
  bearings.forEach(({ locationId, shaft, bearing, outerRing }, i) => {
    const at = `bearings.${i}`;
    refuse(`${at}.locationId`, locationIds.has(locationId) ? undefined : 'this asset has no such location');
    const twice = 'a bearing is listened to here already: add a location for each bearing';
    refuse(`${at}.locationId`, taken.has(locationId) ? twice : undefined);
    taken.add(locationId);
    need(`${at}.shaft`, shaft);
    refuse(
      `${at}.bearing`,
      complaintOf(() => bearingFromText(bearing, outerRing)),
    );
  });
  refuse(
    'nominalSpeedRpm',
    entered.nominalSpeedRpm !== null && shafts.length === 0
      ? 'name the shaft that turns at this speed'
      : undefined,
  );
}

function refuse(field: string, mistake: string | undefined): void {
  if (mistake === undefined) return;
  const message = mistake.charAt(0).toUpperCase() + mistake.slice(1);
  throw new Refusal('VALIDATION_FAILED', { field, message: `${message}.` });
}

function complaintOf(use: () => unknown): string | undefined {
  try {
    use();
    return undefined;
  } catch (error) {
    if (error instanceof RangeError) return error.message;
    throw error;
  }
}
