/** Guided manoeuvres: driven or run on purpose so that suspects show themselves one at a time. */

export type ManoeuvreId =
  | 'steady-cruise'
  | 'pull-under-load'
  | 'coast-in-gear'
  | 'coast-in-neutral'
  | 'engine-at-rest'
  | 'other-gear';

export interface Manoeuvre {
  id: ManoeuvreId;
  title: string;
  /** What to do, for the driver; a passenger or helper operates the page. */
  instruction: string;
  /** What this one tells apart. */
  separates: string;
  durationS: number;
  cautions: string[];
}

const TRAFFIC =
  'Only where traffic and road allow it; the driver watches the road, a passenger works the page.';

/** Common practice, no source. */
export const MANOEUVRES: readonly Manoeuvre[] = [
  {
    id: 'steady-cruise',
    title: 'Steady cruise',
    instruction: 'Hold the speed at which the noise is clearest, level road, same gear, for half a minute.',
    separates: 'Gives the noise itself, and the reference for all others.',
    durationS: 30,
    cautions: [TRAFFIC],
  },
  {
    id: 'pull-under-load',
    title: 'Pull under load',
    instruction:
      'From somewhat below that speed, accelerate firmly through it in the same gear, uphill if there is a hill.',
    separates:
      'Load against no load: gears, joints, mounts and shields that touch under torque get louder, tyres and wheel bearings do not.',
    durationS: 15,
    cautions: [TRAFFIC],
  },
  {
    id: 'coast-in-gear',
    title: 'Coast down in gear',
    instruction:
      'From somewhat above that speed, foot off the accelerator, gear left in, roll down through it.',
    separates: 'The load turns round: gear flanks and joints change, what only turns does not.',
    durationS: 20,
    cautions: [TRAFFIC],
  },
  {
    id: 'coast-in-neutral',
    title: 'Coast in neutral',
    instruction: 'At that speed go to neutral, engine idling, and roll.',
    separates:
      'Road speed without engine speed or load: wheels, tyres, axle and prop shaft stay; engine and gearbox input go.',
    durationS: 15,
    cautions: [
      TRAFFIC,
      'Never switch the ignition off while rolling: steering and brake assistance would go.',
      'Some automatic gearboxes must not roll in neutral: see the vehicle handbook.',
    ],
  },
  {
    id: 'engine-at-rest',
    title: 'Engine speed up at rest',
    instruction:
      'Vehicle standing, neutral or park, parking brake on: raise the engine slowly to the speed of the noise and back.',
    separates:
      'Engine speed without road speed: engine, its drives, exhaust and converter housing stay; axle and wheels cannot.',
    durationS: 20,
    cautions: [
      'Parking brake on, wheels chocked, nobody in front of the vehicle.',
      'Lead the exhaust gas away indoors.',
    ],
  },
  {
    id: 'other-gear',
    title: 'Same road speed, another gear',
    instruction: 'Hold the same road speed in the next gear up or down for half a minute.',
    separates:
      'Road speed against engine speed: a pitch that stays belongs to the road side, one that moves to the engine side.',
    durationS: 30,
    cautions: [TRAFFIC, 'Keep the engine below its highest permitted speed.'],
  },
];
