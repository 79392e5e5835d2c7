import { describe, expect, it } from 'vitest';
import { runningGearPairs } from '../../../collector/drivetrain/gear-pairs.ts';
import { expectedLines, linesNear } from '../../../collector/drivetrain/lines.ts';
import { type DriveTrain, driveTrainMistakes } from '../../../collector/drivetrain/model.ts';
import { fixedSets, shaftSpeeds } from '../../../collector/drivetrain/speeds.ts';
import { tyreCircumferenceM, wheelHz } from '../../../collector/drivetrain/tyre.ts';

const hub = { outer: 5, inner: 7, ballSpin: 2.5, cage: 7 / 12, outerRing: 'turning' as const };
const minibus: DriveTrain = {
  shafts: ['engine', 'turbine', 'output', 'axle'],
  couplings: [
    { kind: 'slipping', name: 'converter', driving: 'engine', driven: 'turbine' },
    { kind: 'ratio', name: 'gearbox', driving: 'turbine', driven: 'output', ratio: { '1': 4, '4': 1 } },
    {
      kind: 'gears',
      name: 'final drive',
      driving: 'output',
      driven: 'axle',
      drivingTeeth: 10,
      drivenTeeth: 41,
    },
  ],
  parts: [
    { kind: 'universal-joint', name: 'rear joint', shaft: 'output' },
    { kind: 'wheel', name: 'rear left wheel', shaft: 'axle', circumferenceM: 2.05 },
    { kind: 'bearing', name: 'rear left hub', shaft: 'axle', multipliers: hub },
    { kind: 'blades', name: 'cooling fan', shaft: 'engine', count: 7 },
  ],
};

describe('fixedSets', () => {
  it('joins what no measurement can part, in the selected gear, and not across a slipping coupling', () => {
    const sets = fixedSets(minibus, '1').map((set) => set.shafts.map((shaft) => shaft.name));
    expect(sets).toEqual([['engine'], ['turbine', 'output', 'axle']]);
    expect(fixedSets(minibus).map((set) => set.shafts.length)).toEqual([1, 1, 2]);
    expect(fixedSets(minibus, '4')[1]!.shafts[2]!.order).toBeCloseTo(10 / 41, 12);
  });
});

describe('shaftSpeeds', () => {
  it('follows one known speed up and down', () => {
    const { hz } = shaftSpeeds(minibus, [{ shaft: 'axle', hz: 5 }], '1');
    expect(hz.get('output')).toBeCloseTo(20.5, 12);
    expect(hz.get('turbine')).toBeCloseTo(82, 12);
    expect(hz.has('engine')).toBe(false);
  });

  it('reports speeds that contradict each other', () => {
    const stated = [
      { shaft: 'axle', hz: 5 },
      { shaft: 'output', hz: 23 },
      { shaft: 'engine', hz: 40 },
    ];
    const { hz, contradictions } = shaftSpeeds(minibus, stated);
    expect(hz.get('engine')).toBe(40);
    expect(contradictions).toHaveLength(1);
    expect(contradictions[0]!.share).toBeCloseTo(2.5 / 20.5, 9);
    expect(() => shaftSpeeds(minibus, [{ shaft: 'crank', hz: 1 }])).toThrow(/"crank"/);
  });
});

describe('expectedLines', () => {
  const speeds = shaftSpeeds(
    minibus,
    [
      { shaft: 'axle', hz: 10 },
      { shaft: 'engine', hz: 40 },
    ],
    '4',
  );
  const lines = expectedLines(minibus, speeds);
  const at = (kind: string, harmonic = 1) =>
    lines
      .filter((line) => line.kind === kind && line.harmonic === harmonic)
      .map((line) => Number(line.frequencyHz.toFixed(9)));

  it('puts every part where its formula says', () => {
    expect(at('universal-joint')).toEqual([82]);
    expect(at('blade-pass', 2)).toEqual([560]);
    expect(at('gear-mesh')).toEqual([410]);
    expect(at('gear-sideband').sort((a, b) => a - b)).toEqual([328, 369, 390, 400, 420, 430, 451, 492]);
    expect(at('bearing-outer')).toEqual([50]);
    expect(at('bearing-inner')).toEqual([70]);
    expect(at('bearing-ball')).toEqual([50]);
    expect(at('bearing-cage')[0]).toBeCloseTo((10 * 7) / 12, 9);
  });

  it('is in order and stops where asked', () => {
    const some = expectedLines(minibus, speeds, { highestHz: 100 });
    expect(some.every((line, k) => k === 0 || line.frequencyHz >= some[k - 1]!.frequencyHz)).toBe(true);
    expect(some.at(-1)!.frequencyHz).toBeLessThanOrEqual(100);
  });

  it('lets a bearing line slip, and no other', () => {
    const near = linesNear(lines, 50.8, 0.2).map((line) => line.kind);
    expect(near).toContain('bearing-outer');
    expect(near).not.toContain('shaft');
    expect(linesNear(lines, 50.1, 0.2).map((line) => line.kind)).toContain('shaft');
  });

  it('takes the difference where both rings of a bearing turn', () => {
    const pilot: DriveTrain = {
      shafts: ['crank', 'input'],
      couplings: [{ kind: 'slipping', name: 'clutch', driving: 'crank', driven: 'input' }],
      parts: [
        {
          kind: 'bearing',
          name: 'pilot',
          shaft: 'input',
          otherShaft: 'crank',
          multipliers: { outer: 3, inner: 5, ballSpin: 2, cage: 0.375 },
        },
      ],
    };
    const both = shaftSpeeds(pilot, [
      { shaft: 'crank', hz: 50 },
      { shaft: 'input', hz: 30 },
    ]);
    const pilotLines = expectedLines(pilot, both, { harmonics: 1 });
    expect(pilotLines.find((line) => line.kind === 'bearing-inner')!.frequencyHz).toBe(100);
    expect(pilotLines.find((line) => line.kind === 'bearing-cage')!.frequencyHz).toBe(42.5);
  });
});

describe('runningGearPairs', () => {
  it('lists the pairs whose shafts turn', () => {
    const speeds = shaftSpeeds(minibus, [{ shaft: 'axle', hz: 10 }]);
    const [pair] = runningGearPairs(minibus, speeds);
    expect(pair!.meshHz).toBeCloseTo(410, 9);
    expect(pair!.shafts.map((shaft) => shaft.name)).toEqual(['output', 'axle']);
    expect(runningGearPairs(minibus, shaftSpeeds(minibus, []))).toEqual([]);
  });
});

describe('driveTrainMistakes', () => {
  it('names every mistake, not only the first', () => {
    const wrong: DriveTrain = {
      shafts: ['a', 'a'],
      couplings: [
        { kind: 'gears', name: 'pair', driving: 'a', driven: 'b', drivingTeeth: 2.5, drivenTeeth: 40 },
        { kind: 'ratio', name: 'box', driving: 'a', driven: 'a', ratio: { '1': 0 } },
      ],
      parts: [{ kind: 'blades', name: 'fan', shaft: 'c', count: 1 }],
    };
    const text = driveTrainMistakes(wrong).join('\n');
    for (const part of ['same name', '"b"', '2.5', 'itself', 'no ratio', '"c"', 'blades']) {
      expect(text).toContain(part);
    }
    expect(driveTrainMistakes(minibus)).toEqual([]);
    expect(() => fixedSets(wrong)).toThrow(/drive train/);
  });
});

describe('tyre', () => {
  it('rolls about as far as the handbooks say (205/65 R16: about 2.05 m, common practice)', () => {
    expect(tyreCircumferenceM('205/65 R16C 107/105T')).toBeCloseTo(2.05, 1);
    expect(wheelHz(72, 2)).toBe(10);
    expect(() => tyreCircumferenceM('big ones')).toThrow(/side wall/);
  });
});
