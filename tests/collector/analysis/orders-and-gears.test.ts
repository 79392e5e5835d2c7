import { describe, expect, it } from 'vitest';
import { diagnose } from '../../../collector/analysis/diagnose.ts';
import { meshFinding, meshLines } from '../../../collector/analysis/gear-mesh.ts';
import { orderFinding, shaftOrders } from '../../../collector/analysis/shaft-orders.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';

const RATE = 6400;
const SHAFT = 24.7;

/** Velocity of each order, mm/s RMS, as acceleration in noise, on gravity. */
function turning(orders: Record<number, number>, seed = 1): Float64Array {
  const random = seededRandom(seed);
  return Float64Array.from({ length: 10 * RATE }, (_, k) => {
    let value = 9.81 + 0.05 * gaussian(random);
    for (const [order, mmPerS] of Object.entries(orders)) {
      const w = 2 * Math.PI * SHAFT * Number(order);
      value += (mmPerS / 1000) * Math.SQRT2 * w * Math.cos((w * k) / RATE + Number(order));
    }
    return value;
  });
}
const ask = (orders: Record<number, number>) => {
  const lines = shaftOrders({ samples: turning(orders), sampleRateHz: RATE, shaftHz: SHAFT });
  return { lines, finding: orderFinding(lines, SHAFT) };
};

describe('shaftOrders', () => {
  it('reads the velocity of each order within 1 %, and only those that are there', () => {
    const { lines } = ask({ 1: 3, 2: 0.5, 3.5: 0.2 });
    expect(lines.map((line) => line.order)).toEqual([1, 2, 3.5]);
    const expected = [3, 0.5, 0.2];
    lines.forEach((line, k) => {
      expect(Math.abs(line.velocityRmsMmPerS / expected[k]! - 1)).toBeLessThan(0.01);
    });
  });

  it('names the pattern with care, and nothing under the size worth mentioning', () => {
    expect(ask({ 1: 3, 2: 0.5 }).finding!.kind).toBe('unbalance-order');
    expect(ask({ 1: 1.6, 2: 2.6, 3: 0.4 }).finding!.kind).toBe('misalignment-order');
    expect(ask({ 1: 2.4, 2: 1, 3: 0.9, 4: 0.8, 5: 0.6, 6: 0.5 }).finding!.kind).toBe('looseness-orders');
    expect(ask({ 0.5: 0.5, 1: 2, 1.5: 0.7, 2.5: 0.5 }).finding!.kind).toBe('looseness-orders');
    expect(ask({ 1: 1.6, 2: 0.5 }).finding).toBeNull();
    expect(ask({ 1: 3 }).finding!.note).toContain('bent shaft');
  });

  it('finds no order in noise over 50 records', () => {
    for (let seed = 1; seed <= 50; seed++) {
      const samples = turning({}, seed);
      expect(orderFinding(shaftOrders({ samples, sampleRateHz: RATE, shaftHz: SHAFT }), SHAFT)).toBeNull();
    }
  });

  it('says nothing when the record is too short to part half orders', () => {
    const samples = turning({ 1: 3 }).subarray(0, RATE / 5);
    expect(shaftOrders({ samples, sampleRateHz: RATE, shaftHz: SHAFT })).toEqual([]);
  });
});

describe('meshLines', () => {
  const pair = {
    name: 'final drive',
    meshHz: 23 * SHAFT,
    shafts: [
      { name: 'pinion', hz: SHAFT },
      { name: 'wheel', hz: (SHAFT * 23) / 61 },
    ],
  };
  const mesh = (depth: number, shaftHz: number) => {
    const random = seededRandom(2);
    return Float64Array.from({ length: 10 * RATE }, (_, k) => {
      const swell = 1 + depth * Math.cos((2 * Math.PI * shaftHz * k) / RATE);
      return 0.2 * gaussian(random) + 2 * swell * Math.cos((2 * Math.PI * pair.meshHz * k) / RATE);
    });
  };

  it('reads the mesh and tells which shaft modulates it', () => {
    const lines = meshLines(mesh(0.9, pair.shafts[1]!.hz), RATE, pair)!;
    expect(lines.meshRmsMPerS2).toBeCloseTo(2 / Math.SQRT2, 1);
    // Each sideband is half the depth high, and there are two.
    expect(lines.sidebands[1]!.share).toBeCloseTo(0.9 / Math.SQRT2, 1);
    expect(lines.sidebands[0]!.share).toBeLessThan(0.05);
    expect(meshFinding(lines)!.note).toContain('wheel');
  });

  it('has no finding on an even mesh, and no lines beyond the sample rate', () => {
    expect(meshFinding(meshLines(mesh(0.1, SHAFT), RATE, pair)!)).toBeNull();
    expect(meshLines(mesh(0, SHAFT), RATE, { ...pair, meshHz: 4000 })).toBeNull();
  });
});

/** Struck once in 91 samples, with slip: 70.3 times a second, 2.85 times a turn. */
function struck(): Float64Array {
  const samples = turning({}, 3);
  const random = seededRandom(8);
  for (let at = 0; at < samples.length - 80; at += 91 * (1 + 0.01 * gaussian(random))) {
    const start = Math.round(at);
    for (let m = 0; m < 60; m++) samples[start + m]! += 0.4 * Math.exp(-m / 12) * Math.cos(1.9 * m);
  }
  return samples;
}

describe('diagnose', () => {
  it('without speed or bearing: none in noise, not clear when something strikes', () => {
    expect(diagnose({ samples: turning({}), sampleRateHz: RATE }).verdict).toBe('none');
    const result = diagnose({ samples: struck(), sampleRateHz: RATE });
    expect(result.verdict).toBe('not-clear');
    expect(result.findings[0]!.kind).toBe('unexplained');
    expect(Math.abs(result.findings[0]!.frequencyHz - RATE / 91)).toBeLessThan(1);
  });

  it('does not keep back what strikes beside the lines of the stated bearing', () => {
    const multipliers = { outer: 3.585, inner: 5.415, ballSpin: 2.357, cage: 0.398 };
    const question = { samples: struck(), sampleRateHz: RATE, shaftHz: SHAFT, bearing: multipliers };
    const result = diagnose(question);
    expect(result.verdict).toBe('none');
    expect(result.findings[0]!.kind).toBe('unexplained');
    expect(Math.abs(result.findings[0]!.frequencyHz - RATE / 91)).toBeLessThan(1);
    expect(result.reason).toContain('check speed and bearing');

    const known = Array.from({ length: 6 }, (_, k) => ((k + 1) * RATE) / 91);
    expect(diagnose({ ...question, otherLinesHz: known }).findings).toEqual([]);
  });

  it('puts the bearing first, then orders and gears', () => {
    const multipliers = { outer: 3.585, inner: 5.415, ballSpin: 2.357, cage: 0.398 };
    const samples = turning({ 1: 3 }, 4);
    const result = diagnose({ samples, sampleRateHz: RATE, shaftHz: SHAFT, bearing: multipliers });
    expect(result.verdict).toBe('none');
    expect(result.findings.map((finding) => finding.kind)).toEqual(['unbalance-order']);
    expect(result.orders[0]!.order).toBe(1);
  });
});
