import { checkSpeedChannel, type SpeedChannel, speedAt } from '../../dsp/resample.ts';
import { jointEvidence } from '../background.ts';
import { type BlockOrders, blockOrders } from './block-orders.ts';
import { highestOfPlateau, offsetOf } from './peak.ts';
import { bootstrapShare, rankCorrelation } from './statistics.ts';

/** What stays on one line when nothing is turned: a tone of constant frequency follows no speed. */
const NO_SPEED = 'no speed';

export interface FollowQuestion {
  /** Acceleration, m/s². */
  samples: Float64Array;
  sampleRateHz: number;
  speeds: SpeedChannel[];
  /** Load over time, any unit: to tell a tone that grows with load. */
  load?: { timeS: number[]; value: number[] };
  /** Block length; default 1 s. Shorter follows faster changes, longer tells closer frequencies apart. */
  blockS?: number;
  /** Tones above this are not looked for; default a tenth of the sample rate. */
  highestHz?: number;
}

export interface FollowedTone {
  /** Mean over the record. */
  frequencyHz: number;
  amplitudeRms: number;
  /**
   * follows: one speed, or a set in fixed ratio that no measurement can part. no-speed: its frequency stays while
   * every speed changes. cannot-say: the speeds varied too little or the tone is too faint.
   */
  verdict: 'follows' | 'no-speed' | 'cannot-say';
  /** Speeds that explain it equally well; several when they kept one ratio throughout. */
  speeds: { name: string; order: number }[];
  /** Share of resampled records in which this explanation beats every other one; 0.5 is a coin. */
  confidence: number;
  reason: string;
  /** Spearman's rank correlation of the tone's amplitude with the load; null without a load. */
  loadCorrelation: number | null;
}

const TONE = Math.log(1000);
const CONFIDENT = 0.95;
const FEWEST_BLOCKS = 8;
const MOST_TONES = 12;
const MOST_LOOKS = 60;
/** Lines taken out around what is left of a claimed tone. */
const FLANK = 9;

interface Tone {
  orders: BlockOrders;
  line: number;
  sum: number;
}

interface SeenTone extends Tone {
  /** Where it stood out, before its peak was sought. */
  seen: number;
  /** Its peak is one that was claimed before: this is only the foot of it. */
  isFlank: boolean;
}

/**
 * Which known speed does each tone follow? While the speeds vary, the record is turned into each speed's own
 * angle; a tone stays on one line only over the speed it follows ("order lock"). Evidence is summed over blocks,
 * and the blocks are drawn again with replacement to see how sure the lead is (B. Efron, bootstrap, 1979).
 */
export function followsSpeed(question: FollowQuestion): FollowedTone[] {
  const { samples, sampleRateHz, speeds } = question;
  const { blockS = 1, highestHz = sampleRateHz / 10 } = question;
  for (const channel of speeds) checkSpeedChannel(channel);
  if (speeds.some((channel) => channel.name === NO_SPEED))
    throw new RangeError(`"${NO_SPEED}" is no channel's name`);
  const still: SpeedChannel = { name: NO_SPEED, timeS: [0], hz: [1] };
  const turning = speeds.filter((channel) => Math.max(...channel.hz) > 0);
  const all = [...turning, still].map((channel) =>
    blockOrders(samples, sampleRateHz, channel, blockS, highestHz),
  );
  const blocks = Math.min(...all.map((orders) => orders.evidence.length));
  if (blocks === 0) return [];
  const claimed: FollowedTone[] = [];
  const own: Tone[] = [];
  // What a claimed tone leaves in the other speeds' angles, smeared, must not count as further tones.
  const left: BlockOrders[] = all.map((orders) => ({
    ...orders,
    evidence: orders.evidence.map((row) => Float64Array.from(row)),
  }));
  for (let look = 0; look < MOST_LOOKS && claimed.length < MOST_TONES; look++) {
    const tone = strongestTone(left);
    if (tone === null) break;
    if (tone.isFlank || isShadow(tone, own, blockS)) {
      for (const row of tone.orders.evidence) row.fill(0, Math.max(0, tone.seen - FLANK), tone.seen + FLANK);
      continue;
    }
    const found = { ...tone, orders: all[left.indexOf(tone.orders)]! };
    own.push(found);
    claimed.push(explain(found, all, blocks, blockS, question));
    for (const orders of left) wipe(orders, pathOf(found));
  }
  return claimed;
}

/** The line that stands out most over the blocks together, or null. */
function strongestTone(all: BlockOrders[]): SeenTone | null {
  let best: SeenTone | null = null;
  for (const orders of all) {
    const blocks = orders.evidence.length;
    const lines = orders.evidence[0]?.length ?? 0;
    const sums = new Float64Array(lines);
    for (const row of orders.evidence) for (let k = 0; k < lines; k++) sums[k]! += row[k]!;
    for (let line = 4; line < lines - 1; line++) {
      const sum = sums[line]!;
      if (sum <= (best?.sum ?? 0)) continue;
      // Blocks overlap by half: half as many are independent.
      const surprise = jointEvidence(sum / 2, Math.max(1, blocks >> 1)) - Math.log(lines);
      if (surprise < TONE) continue;
      const peak = highestOfPlateau(orders, sums, line);
      best = { orders, line: peak, sum, seen: line, isFlank: sums[peak] === 0 };
    }
  }
  return best;
}

/** Side lobes of the Hann window: -31 dB at most, and far below that this many lines of resolution away. */
const SIDE_LOBE = 0.03;
const SIDE_LOBES_REACH = 10;

/** Whether most of what stands out is a side lobe of tones that were claimed. */
function isShadow({ orders, line }: Tone, claimed: readonly Tone[], blockS: number): boolean {
  const paths = claimed.map(pathOf);
  let standing = 0;
  let shadowed = 0;
  orders.evidence.forEach((row, k) => {
    if (row[line]! < 1) return;
    standing++;
    const hz = line * orders.stepOrders * orders.hz[k]!;
    const isLobe = claimed.some((tone, index) => {
      const away = Math.abs((paths[index]![k] ?? Number.POSITIVE_INFINITY) - hz) * blockS;
      const size = tone.orders.amplitudeRms[k]?.[tone.line] ?? 0;
      return away < SIDE_LOBES_REACH && orders.amplitudeRms[k]![line]! < SIDE_LOBE * size;
    });
    if (isLobe) shadowed++;
  });
  return shadowed > standing / 2;
}

/** Takes a tone's path, and what it sweeps over within each block, out of one speed's evidence. */
function wipe(orders: BlockOrders, path: number[]): void {
  const lineOf = (k: number, block: number) =>
    path[k]! / Math.max(orders.hz[block]!, 1e-9) / orders.stepOrders;
  for (let k = 0; k < Math.min(path.length, orders.evidence.length); k++) {
    const places = [k - 1, k, k + 1]
      .filter((at) => at >= 0 && at < path.length && at < orders.hz.length)
      .flatMap((at) => [lineOf(at, at), lineOf(at, k)]);
    orders.evidence[k]!.fill(
      0,
      Math.max(0, Math.floor(Math.min(...places)) - 8),
      Math.ceil(Math.max(...places)) + 9,
    );
  }
}

const orderOf = (tone: Tone) => (tone.line + offsetOf(tone.orders, tone.line)) * tone.orders.stepOrders;
const pathOf = (tone: Tone) => tone.orders.hz.map((hz) => hz * orderOf(tone));

/** Mean order of a path over a speed. */
function orderOver(path: number[], orders: BlockOrders): number {
  const count = Math.min(path.length, orders.hz.length);
  let turns = 0;
  let tone = 0;
  for (let k = 0; k < count; k++) {
    tone += path[k]!;
    turns += orders.hz[k]!;
  }
  return turns === 0 ? 0 : tone / turns;
}

function explain(
  tone: Tone,
  all: BlockOrders[],
  blocks: number,
  blockS: number,
  question: FollowQuestion,
): FollowedTone {
  const own = rowOf(tone, blocks);
  const path = pathOf(tone);
  const rivals = all
    .filter((orders) => orders !== tone.orders)
    .map((orders) => bestRival(tone, orders, blocks, blockS));
  const together = rivals.filter((rival) => apart(path, pathOf(rival)) * blockS < 1);
  const against = rivals.filter((rival) => !together.includes(rival));
  const confidence = bootstrapShare(
    own,
    against.map((rival) => rival.row),
  );
  const same = [tone, ...together];
  const amplitudes = tone.orders.amplitudeRms.slice(0, blocks).map((row) => row[tone.line]!);
  const result = {
    frequencyHz: path.reduce((s, v) => s + v, 0) / path.length,
    amplitudeRms: Math.sqrt(amplitudes.reduce((s, v) => s + v * v, 0) / amplitudes.length),
    speeds: same
      .filter((one) => one.orders.name !== NO_SPEED)
      .map((one) => ({ name: one.orders.name, order: orderOver(path, one.orders) })),
    confidence,
    loadCorrelation: loadCorrelation(amplitudes, blockS, question),
  };
  return { ...result, ...verdictOn(tone, same, blocks, confidence, result.loadCorrelation) };
}

function verdictOn(
  tone: Tone,
  same: Tone[],
  blocks: number,
  confidence: number,
  withLoad: number | null,
): { verdict: FollowedTone['verdict']; reason: string } {
  const names = same.map((one) => one.orders.name);
  const grows = withLoad !== null && withLoad > 0.6 ? '; its size follows the load' : '';
  if (blocks < FEWEST_BLOCKS) {
    return {
      verdict: 'cannot-say',
      reason: `${blocks} blocks are too few; at least ${FEWEST_BLOCKS} are needed`,
    };
  }
  if (names.includes(NO_SPEED) && names.length > 1) {
    return { verdict: 'cannot-say', reason: `the speed varied too little to tell${grows}` };
  }
  if (confidence < CONFIDENT) {
    return { verdict: 'cannot-say', reason: `another explanation fits about as well${grows}` };
  }
  if (tone.orders.name === NO_SPEED) {
    return { verdict: 'no-speed', reason: `its frequency stays while the speeds change${grows}` };
  }
  const which = names.length > 1 ? `${names.join(' or ')}, which kept one ratio throughout` : names[0]!;
  return { verdict: 'follows', reason: `it follows ${which}${grows}` };
}

/** Evidence per block at the tone's line, its neighbours included. */
function rowOf({ orders, line }: Tone, blocks: number): number[] {
  return orders.evidence
    .slice(0, blocks)
    .map((row) => Math.max(row[line - 1] ?? 0, row[line]!, row[line + 1] ?? 0));
}

/**
 * The line over another speed that explains the tone best: anywhere the tone passes through over that speed. Its
 * evidence counts in the blocks where it runs along the tone's path; elsewhere it is some other tone's.
 */
function bestRival(
  tone: Tone,
  orders: BlockOrders,
  blocks: number,
  blockS: number,
): Tone & { row: number[] } {
  const path = pathOf(tone);
  const places = path
    .slice(0, orders.hz.length)
    .flatMap((hz, k) => (orders.hz[k]! > 0 ? [hz / orders.hz[k]! / orders.stepOrders] : []));
  const limit = (orders.evidence[0]?.length ?? 2) - 2;
  const low = Math.min(limit, Math.max(1, Math.floor(Math.min(...places))));
  const high = Math.min(limit, Math.max(low, Math.ceil(Math.max(...places))));
  let best = { orders, line: low, sum: -1, row: [] as number[] };
  for (let line = low; line <= high; line++) {
    const candidate = { orders, line, sum: 0 };
    const row = rowOf(candidate, blocks).map((value, k) => {
      const hz = line * orders.stepOrders * orders.hz[k]!;
      return Math.abs(hz - path[k]!) < 2 / blockS ? value : 0;
    });
    const sum = row.reduce((s, v) => s + v, 0);
    if (sum > best.sum) best = { ...candidate, sum, row };
  }
  return best;
}

/** RMS difference of two paths, Hz. */
function apart(a: number[], b: number[]): number {
  const count = Math.min(a.length, b.length);
  let sum = 0;
  for (let k = 0; k < count; k++) sum += (a[k]! - b[k]!) ** 2;
  return Math.sqrt(sum / count);
}

function loadCorrelation(amplitudes: number[], blockS: number, { load }: FollowQuestion): number | null {
  if (load === undefined) return null;
  const channel = { name: 'load', timeS: load.timeS, hz: load.value };
  const values = amplitudes.map((_, k) => speedAt(channel, ((k + 1) * blockS) / 2));
  return rankCorrelation(amplitudes, values);
}
