import type { BearingMultipliers } from '../drivetrain/bearing.ts';
import type { SpeedChannel } from '../dsp/resample.ts';
import { type BearingVerdict, findBearingDefect } from './bearing-defect.ts';
import type { Finding } from './finding.ts';
import { type GearPair, meshFinding, meshLines } from './gear-mesh.ts';
import { type OrderLine, orderFinding, shaftOrders } from './shaft-orders.ts';
import { unexplainedStrikes } from './unexplained.ts';

export interface DiagnoseQuestion {
  /** Acceleration, m/s². */
  samples: Float64Array;
  sampleRateHz: number;
  /** Shaft speed, turns per second; without it only unexplained strikes can be reported. */
  shaftHz?: number;
  /** The same over time, where it varies. */
  speed?: SpeedChannel;
  bearing?: BearingMultipliers;
  gears?: GearPair[];
  /** Envelope band stated by the user. */
  bandHz?: [number, number];
  sensorBandwidthHz?: number;
  otherLinesHz?: number[];
  /** Shaft orders below this make no finding. */
  noteAboveMmPerS?: number;
}

export interface Diagnosis {
  findings: Finding[];
  /** About the bearing; without one 'none' or 'not-clear'. */
  verdict: BearingVerdict;
  reason: string;
  orders: OrderLine[];
}

/** Everything one channel's record says of its machine, most telling first. */
export function diagnose(question: DiagnoseQuestion): Diagnosis {
  const { samples, sampleRateHz, shaftHz, bearing } = question;
  const speed = question.speed === undefined ? {} : { speed: question.speed };
  const orders = shaftHz === undefined ? [] : shaftOrders({ samples, sampleRateHz, shaftHz, ...speed });
  const others: Finding[] = [];
  const order = shaftHz === undefined ? null : orderFinding(orders, shaftHz, question.noteAboveMmPerS);
  if (order !== null) others.push(order);
  for (const pair of question.gears ?? []) {
    const mesh = meshLines(samples, sampleRateHz, pair);
    const found = mesh === null ? null : meshFinding(mesh);
    if (found !== null) others.push(found);
  }
  if (shaftHz !== undefined && bearing !== undefined) {
    const { samples: _samples, gears: _gears, bearing: _bearing, noteAboveMmPerS: _note, ...rest } = question;
    const result = findBearingDefect({ ...rest, samples, shaftHz, multipliers: bearing });
    // A speed or bearing that was stated wrongly hides its lines: what strikes all the same is not kept back. A speed that
    // was measured is not wrong, and where it varies the shaft's own lines are too wide to be told apart.
    const strikes =
      result.verdict === 'none' && question.speed === undefined
        ? unexplainedStrikes(samples, sampleRateHz, shaftHz, question.otherLinesHz)
        : null;
    if (strikes !== null) {
      const hz = strikes.frequencyHz.toFixed(1);
      const note =
        'something strikes or swells at this rate, away from all lines of the stated speed and bearing';
      return {
        findings: [...result.findings, { ...strikes, note }, ...others],
        verdict: result.verdict,
        reason: `${result.reason}, but something repeats at ${hz} Hz that nothing stated explains: check speed and bearing`,
        orders,
      };
    }
    return {
      findings: [...result.findings, ...others],
      verdict: result.verdict,
      reason: result.reason,
      orders,
    };
  }
  const strikes = unexplainedStrikes(samples, sampleRateHz, shaftHz);
  if (strikes !== null) {
    const reason = `something repeats at ${strikes.frequencyHz.toFixed(1)} Hz that nothing stated explains`;
    return { findings: [strikes, ...others], verdict: 'not-clear', reason, orders };
  }
  return { findings: others, verdict: 'none', reason: 'nothing stands out', orders };
}
