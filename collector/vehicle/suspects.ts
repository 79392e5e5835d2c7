import type { ManoeuvreId } from './manoeuvres.ts';

/** What was heard or measured in one manoeuvre. */
export interface Observation {
  manoeuvre: ManoeuvreId;
  /** At the speed of the complaint. */
  noise: 'present' | 'absent' | 'unclear';
  /** For the other gear at the same road speed: did the pitch stay? */
  pitch?: 'same' | 'changed';
}

type SuspectId =
  | 'engine-speed'
  | 'gearbox-loaded'
  | 'converter-or-clutch'
  | 'axle-gears'
  | 'joints-loaded'
  | 'torque-reaction'
  | 'road-speed';

interface SuspectStanding {
  id: SuspectId;
  title: string;
  follows: 'engine speed' | 'road speed' | 'load';
  /** 'stays': nothing observed speaks against it. 'weakened': one thing does. 'unlikely': two or more do. */
  standing: 'stays' | 'weakened' | 'unlikely';
  /** Observations in favour and against, in words. */
  supports: string[];
  against: string[];
}

export interface SuspectReview {
  suspects: SuspectStanding[];
  /** Suspects that stay and that the manoeuvres done cannot tell apart. */
  inseparable: SuspectId[];
  /** The manoeuvre that would tell most of them apart; null when all are done or one suspect is left. */
  nextManoeuvre: ManoeuvreId | null;
  /** Support in one sentence, never a verdict. */
  sentence: string;
}

/** yes: the noise should be there; no: it should not; maybe: says nothing. */
type Expectation = 'yes' | 'no' | 'maybe';

interface Suspect {
  id: SuspectId;
  title: string;
  follows: SuspectStanding['follows'];
  expects: Record<Exclude<ManoeuvreId, 'other-gear'>, Expectation>;
  pitchInOtherGear: 'same' | 'changed' | null;
}

/** Common practice, no source. */
const SUSPECTS: readonly Suspect[] = [
  {
    id: 'engine-speed',
    title: 'engine, its drives, flywheel or exhaust',
    follows: 'engine speed',
    expects: row('yes', 'yes', 'maybe', 'no', 'yes'),
    pitchInOtherGear: 'changed',
  },
  {
    id: 'gearbox-loaded',
    title: 'gears and bearings of the gearbox input side',
    follows: 'engine speed',
    expects: row('yes', 'yes', 'maybe', 'no', 'no'),
    pitchInOtherGear: 'changed',
  },
  {
    id: 'converter-or-clutch',
    title: 'torque converter or clutch',
    follows: 'load',
    expects: row('maybe', 'yes', 'no', 'no', 'no'),
    pitchInOtherGear: null,
  },
  {
    id: 'axle-gears',
    title: 'axle gears and their bearings',
    follows: 'road speed',
    expects: row('yes', 'yes', 'maybe', 'maybe', 'no'),
    pitchInOtherGear: 'same',
  },
  {
    id: 'joints-loaded',
    title: 'drive shaft joints under load',
    follows: 'load',
    expects: row('maybe', 'yes', 'maybe', 'no', 'no'),
    pitchInOtherGear: 'same',
  },
  {
    id: 'torque-reaction',
    title: 'mounts, or a shield or pipe that touches under torque',
    follows: 'load',
    expects: row('maybe', 'yes', 'maybe', 'no', 'maybe'),
    pitchInOtherGear: null,
  },
  {
    id: 'road-speed',
    title: 'wheels, tyres, wheel bearings or prop shaft',
    follows: 'road speed',
    expects: row('yes', 'yes', 'yes', 'yes', 'no'),
    pitchInOtherGear: 'same',
  },
];

function row(
  cruise: Expectation,
  pull: Expectation,
  coastInGear: Expectation,
  coastInNeutral: Expectation,
  engineAtRest: Expectation,
): Suspect['expects'] {
  return {
    'steady-cruise': cruise,
    'pull-under-load': pull,
    'coast-in-gear': coastInGear,
    'coast-in-neutral': coastInNeutral,
    'engine-at-rest': engineAtRest,
  };
}

const ORDER: readonly ManoeuvreId[] = [
  'coast-in-neutral',
  'engine-at-rest',
  'other-gear',
  'pull-under-load',
  'coast-in-gear',
  'steady-cruise',
];

/** Given in which manoeuvres the noise is there: which suspects stay, and why. Repeats of a manoeuvre all count. */
export function reviewSuspects(observations: readonly Observation[]): SuspectReview {
  const suspects = SUSPECTS.map((suspect): SuspectStanding => {
    const supports: string[] = [];
    const against: string[] = [];
    for (const observation of observations) {
      const said = compare(suspect, observation);
      if (said === null) continue;
      (said.fits ? supports : against).push(said.text);
    }
    const { id, title, follows } = suspect;
    const standing = against.length === 0 ? 'stays' : against.length === 1 ? 'weakened' : 'unlikely';
    return { id, title, follows, standing, supports, against };
  });
  const staying = suspects.filter(({ standing }) => standing === 'stays').map(({ id }) => id);
  const nextManoeuvre = staying.length < 2 ? null : mostTelling(staying, observations);
  return {
    suspects,
    inseparable: staying.length > 1 ? staying : [],
    nextManoeuvre,
    sentence: sentenceOf(suspects, observations.length),
  };
}

function compare(
  suspect: Suspect,
  { manoeuvre, noise, pitch }: Observation,
): { fits: boolean; text: string } | null {
  if (noise === 'unclear') return null;
  if (manoeuvre === 'other-gear') {
    if (noise === 'absent' || pitch === undefined || suspect.pitchInOtherGear === null) return null;
    const text = `the pitch ${pitch === 'same' ? 'stays' : 'changes'} in another gear at the same road speed`;
    return { fits: pitch === suspect.pitchInOtherGear, text };
  }
  const expected = suspect.expects[manoeuvre];
  if (expected === 'maybe') return null;
  return {
    fits: (expected === 'yes') === (noise === 'present'),
    text: `the noise is ${noise} in: ${WORDS[manoeuvre]}`,
  };
}

const WORDS: Record<ManoeuvreId, string> = {
  'steady-cruise': 'steady cruise',
  'pull-under-load': 'pull under load',
  'coast-in-gear': 'coast down in gear',
  'coast-in-neutral': 'coast in neutral',
  'engine-at-rest': 'engine speed up at rest',
  'other-gear': 'another gear at the same road speed',
};

/** The manoeuvre not yet done on which the remaining suspects disagree most evenly. */
function mostTelling(
  staying: readonly SuspectId[],
  observations: readonly Observation[],
): ManoeuvreId | null {
  const done = new Set(
    observations.filter(({ noise }) => noise !== 'unclear').map(({ manoeuvre }) => manoeuvre),
  );
  let best: { id: ManoeuvreId; split: number } | null = null;
  for (const id of ORDER) {
    if (done.has(id)) continue;
    const answers = SUSPECTS.filter((suspect) => staying.includes(suspect.id)).map((suspect) =>
      id === 'other-gear' ? suspect.pitchInOtherGear : suspect.expects[id],
    );
    const yes = answers.filter((answer) => answer === 'yes' || answer === 'same').length;
    const no = answers.filter((answer) => answer === 'no' || answer === 'changed').length;
    const split = Math.min(yes, no);
    if (split > (best?.split ?? 0)) best = { id, split };
  }
  return best?.id ?? null;
}

function sentenceOf(suspects: readonly SuspectStanding[], observed: number): string {
  if (observed === 0) return 'No manoeuvre has been done yet, so every suspect stays.';
  const staying = suspects.filter(({ standing }) => standing === 'stays');
  if (staying.length === 0) {
    return 'Every suspect has something against it: the observations do not fit one cause; check them, or there are two noises.';
  }
  const names = staying.map(({ title }) => title).join('; or ');
  return `What was observed fits: ${names}. This narrows the search and proves nothing by itself.`;
}
