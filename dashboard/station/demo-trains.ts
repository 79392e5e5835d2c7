import type { DriveTrain } from '../contract/drive-train.ts';

/** What turns in the demo's assets, as its sources shake (see the scenario); bearings by name of the location. */
export function demoTrain(kind: 'vehicle' | 'machine', idOf: ReadonlyMap<string, number>): DriveTrain {
  const bearing = (location: string, shaft: string, designation: string) => {
    const locationId = idOf.get(location);
    return locationId === undefined
      ? []
      : [{ locationId, shaft, bearing: designation, outerRing: 'standing' as const }];
  };
  const none = { couplings: [], universalJoints: [], blades: [], tyre: null, vehicleSpeeds: {} };
  if (kind === 'machine') {
    return {
      ...none,
      // A four-pole motor on 50 Hz, with slip.
      nominalSpeedRpm: 1464,
      shafts: ['fan shaft'],
      blades: [{ name: 'blades', shaft: 'fan shaft', count: 8 }],
      bearings: [
        ...bearing('Drive end', 'fan shaft', '6203'),
        ...bearing('Fan bearing', 'fan shaft', '6205'),
      ],
    };
  }
  return {
    ...none,
    nominalSpeedRpm: null,
    shafts: ['engine', 'output shaft', 'wheel'],
    couplings: [
      {
        kind: 'ratio',
        name: 'gearbox',
        driving: 'engine',
        driven: 'output shaft',
        ratio: { '1': 4.2, '2': 2.3, '3': 1.45, '4': 1 },
      },
      { kind: 'ratio', name: 'final drive', driving: 'output shaft', driven: 'wheel', ratio: 3.9 },
    ],
    tyre: { size: '195/75 R16', shaft: 'wheel' },
    vehicleSpeeds: { engineSpeedRpm: 'engine', outputSpeedRpm: 'output shaft' },
    bearings: bearing('Output bearing', 'output shaft', '6205'),
  };
}
