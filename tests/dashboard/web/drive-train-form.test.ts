import { describe, expect, it } from 'vitest';
import type { DriveTrain } from '../../../dashboard/contract/drive-train.ts';
import { fieldsOf, trainFromFields } from '../../../dashboard/web/state/drive-train-form.ts';

const EMPTY: DriveTrain = {
  nominalSpeedRpm: null,
  shafts: [],
  couplings: [],
  universalJoints: [],
  blades: [],
  tyre: null,
  vehicleSpeeds: {},
  bearings: [],
};
const BARE = {
  nominalSpeedRpm: '',
  blades: '',
  gearRatios: '',
  finalDrive: '',
  tyreSize: '',
  bearings: [],
};

describe('the form of a drive train', () => {
  it('makes a machine with speed, blades and a bearing, and reads it back', () => {
    const train = trainFromFields('machine', EMPTY, {
      ...BARE,
      nominalSpeedRpm: '1464,5',
      blades: '8',
      bearings: [
        { locationId: 3, bearing: '6205', shaft: 'shaft', outerRing: 'standing' },
        { locationId: 4, bearing: '', shaft: 'shaft', outerRing: 'standing' },
      ],
    }) as DriveTrain;
    expect(train).toMatchObject({
      nominalSpeedRpm: 1464.5,
      shafts: ['shaft'],
      blades: [{ shaft: 'shaft', count: 8 }],
      bearings: [{ locationId: 3 }],
    });
    expect(fieldsOf(train)).toMatchObject({ nominalSpeedRpm: '1464.5', blades: '8' });
  });

  it('makes a vehicle whose speeds hang together, with ratios or teeth', () => {
    const train = trainFromFields('vehicle', EMPTY, {
      ...BARE,
      gearRatios: '1=4.2, 2=2,3, 3=1.45, R=3.9',
      finalDrive: '11/43',
      tyreSize: '205/65 R16',
    }) as DriveTrain;
    expect(train.couplings).toEqual([
      {
        kind: 'ratio',
        name: 'gearbox',
        driving: 'engine',
        driven: 'output shaft',
        ratio: { '1': 4.2, '2': 2.3, '3': 1.45, R: 3.9 },
      },
      {
        kind: 'gears',
        name: 'final drive',
        driving: 'output shaft',
        driven: 'wheel',
        drivingTeeth: 11,
        drivenTeeth: 43,
      },
    ]);
    expect(train.tyre).toEqual({ size: '205/65 R16', shaft: 'wheel' });
    expect(train.vehicleSpeeds).toEqual({ engineSpeedRpm: 'engine', outputSpeedRpm: 'output shaft' });
    const again = trainFromFields('vehicle', train, { ...BARE, ...fieldsOf(train) });
    expect(again).toEqual(train);
  });

  it('leaves what it does not show as it was', () => {
    const before: DriveTrain = {
      ...EMPTY,
      shafts: ['engine', 'turbine', 'output shaft', 'wheel'],
      couplings: [{ kind: 'slipping', name: 'converter', driving: 'engine', driven: 'turbine' }],
      universalJoints: [{ name: 'rear joint', shaft: 'output shaft' }],
    };
    expect(trainFromFields('vehicle', before, { ...BARE, finalDrive: '3.9' })).toMatchObject({
      shafts: before.shafts,
      couplings: [before.couplings[0], { kind: 'ratio', ratio: 3.9 }],
      universalJoints: before.universalJoints,
    });
  });

  it.each([
    ['machine', 'nominalSpeedRpm', '-4'],
    ['machine', 'nominalSpeedRpm', 'fast'],
    ['machine', 'blades', '1.5'],
    ['vehicle', 'gearRatios', 'four'],
    ['vehicle', 'gearRatios', '1=0'],
    ['vehicle', 'finalDrive', '11:43'],
  ] as const)('on a %s refuses %s = %s at its field', (kind, field, text) => {
    expect(trainFromFields(kind, EMPTY, { ...BARE, [field]: text })).toMatchObject({
      field,
      message: expect.stringMatching(/^(Give|Write) .{10,}\.$/),
    });
  });
});
