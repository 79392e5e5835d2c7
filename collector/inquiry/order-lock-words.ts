import type { FollowedTone } from '../analysis/follow/follows-speed.ts';
import { type DriveTrain, type ExpectedLine, expectedLines, linesNear } from '../drivetrain/index.ts';

export interface ToldSpeed {
  /** What turns at it, as people say it: "engine", "propeller shaft". */
  name: string;
  /** Shafts in a fixed ratio to it: turns of each per turn of it. Empty when the drive train does not say. */
  shafts: readonly { name: string; order: number }[];
  /** What an order counts: 'turn', or 'metre' for a road speed without a known tyre. */
  per: 'turn' | 'metre';
}

/** Orders found are right within about this share. */
const ORDER_TOLERANCE = 0.01;

/** What a tone follows, in words, with what it could be and how sure that is. */
export function toneSentence(tone: FollowedTone, told: readonly ToldSpeed[], train?: DriveTrain): string {
  const head = `${tone.frequencyHz.toFixed(0)} Hz on average`;
  if (tone.verdict === 'cannot-say') return `${head}: cannot say, because ${tone.reason}.`;
  const others = told.filter(({ name }) => tone.speeds.every((speed) => speed.name !== name));
  const ruledOut =
    others.length === 0
      ? ''
      : ` Ruled out: ${list(
          others.map(({ name }) => name),
          'and',
        )}.`;
  const sure = `${sureness(tone.confidence)}.`;
  if (tone.verdict === 'no-speed') {
    const grows = (tone.loadCorrelation ?? 0) > 0.6 ? ', but its size follows the load' : '';
    return `${head}: follows no known speed: it stays while they change${grows}. ${sure}${ruledOut}`;
  }
  const followed = tone.speeds.flatMap(({ name, order }) => {
    const speed = told.find((one) => one.name === name);
    return speed === undefined ? [] : [{ speed, order }];
  });
  const names = list(
    followed.map(({ speed, order }) => `${speed.name} (${orderText(order, speed.per)})`),
    'or',
  );
  const apart =
    followed.length > 1
      ? ' They kept one ratio throughout; a part of the run in which the gear changes or the clutch slips would tell them apart.'
      : '';
  const along = followed.flatMap(({ speed, order }) =>
    speed.shafts
      .filter((shaft) => shaft.name !== speed.name)
      .map((shaft) => `${shaft.name} (${orderText(order / shaft.order, 'turn')})`),
  );
  const fixed =
    along.length === 0
      ? ''
      : ` In one fixed ratio with it, so that no measurement can part them: ${list(along, 'and')}.`;
  const parts = train === undefined ? [] : followed.flatMap((one) => partsAt(one, train));
  const could = parts.length === 0 ? '' : ` Expected there: ${list([...new Set(parts)], 'or')}.`;
  return `${head}: follows ${names}. ${sure}${apart}${fixed}${could}${ruledOut}`;
}

const orderText = (order: number, per: 'turn' | 'metre'): string => {
  const number = order >= 100 ? order.toFixed(0) : order.toFixed(1);
  return per === 'turn' ? `order ${number}` : `${order.toFixed(2)} times per metre`;
};

/** What the share means is said once, beside the list. */
function sureness(confidence: number): string {
  const percent = Math.floor(100 * confidence);
  return percent >= 99 ? 'Over 99 % sure' : `${percent} % sure`;
}

const KINDS: Partial<Record<ExpectedLine['kind'], string>> = {
  'universal-joint': 'universal joint',
  'gear-mesh': 'gear mesh',
  'blade-pass': 'blades of',
};

/** Parts of the drive train whose line lies at this order. Orders stand for speeds: the told shaft turns once. */
function partsAt({ speed, order }: { speed: ToldSpeed; order: number }, train: DriveTrain): string[] {
  if (speed.shafts.length === 0) return [];
  const hz = new Map(speed.shafts.map(({ name, order: turns }) => [name, turns]));
  const lines = expectedLines(train, { hz, contradictions: [] }, { harmonics: 3, sidebands: 0 });
  return linesNear(lines, order, ORDER_TOLERANCE * order, 0).flatMap(({ kind, source, harmonic }) => {
    const words = KINDS[kind];
    if (words === undefined) return [];
    return [harmonic === 1 ? `${words} ${source}` : `${words} ${source}, harmonic ${harmonic}`];
  });
}

function list(names: readonly string[], word: 'and' | 'or'): string {
  return names.length < 2 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} ${word} ${names.at(-1)}`;
}
