import { describe, expect, it } from 'vitest';
import { type MotionEvent, MountMotion } from '../../../collector/rig/mount-motion.ts';
import type { Vector } from '../../../collector/rig/vector.ts';
import { seeded } from '../../support/simulated-node.ts';

type Matrix = [Vector, Vector, Vector];
const G = 9.80665;
const rad = (deg: number) => (deg * Math.PI) / 180;

/** Turns about an axis (Rodrigues' formula). */
function turn([x, y, z]: Vector, deg: number): Matrix {
  const n = Math.hypot(x, y, z);
  const [a, b, c] = [x / n, y / n, z / n];
  const [s, co] = [Math.sin(rad(deg)), Math.cos(rad(deg))];
  const k = 1 - co;
  return [
    [co + a * a * k, a * b * k - c * s, a * c * k + b * s],
    [b * a * k + c * s, co + b * b * k, b * c * k - a * s],
    [c * a * k - b * s, c * b * k + a * s, co + c * c * k],
  ];
}
const apply = (m: Matrix, [x, y, z]: Vector): Vector =>
  m.map((row) => row[0] * x + row[1] * y + row[2] * z) as unknown as Vector;

/** What a vehicle feels in its own axes at a second: a slope it stands on, and braking or cornering. */
interface Ride {
  slopeDeg?(second: number): number;
  acceleration?(second: number): Vector;
}

/** Sensors clamped at different angles to one vehicle; a mount may turn in its clamp. */
function drive(
  seconds: number,
  mounts: { set: Matrix; turned?(second: number): Matrix | null }[],
  ride: Ride = {},
  noise = 0.05,
): { events: MotionEvent[][]; at: number[][] } {
  const random = seeded(11);
  const motions = mounts.map(() => new MountMotion());
  const events: MotionEvent[][] = mounts.map(() => []);
  const at: number[][] = mounts.map(() => []);
  const limits = { turnDeg: 10, aloneDeg: 8 };
  for (let second = 0; second < seconds; second++) {
    const tilted = apply(turn([0, 1, 0], ride.slopeDeg?.(second) ?? 0), [0, 0, G]);
    const push = ride.acceleration?.(second) ?? [0, 0, 0];
    const felt: Vector = [tilted[0] + push[0], tilted[1] + push[1], tilted[2] + push[2]];
    mounts.forEach(({ set, turned }, index) => {
      const seated = turned?.(second) ?? null;
      const inSensor = apply(set, seated === null ? felt : apply(seated, felt));
      const shaken = inSensor.map((v) => v + noise * (random() - 0.5)) as unknown as Vector;
      const others = motions.flatMap((other, i) =>
        i === index || other.angleDeg === null ? [] : [other.angleDeg],
      );
      const event = motions[index]!.take(1000 * second, shaken, others, limits);
      if (event === null) return;
      events[index]!.push(event);
      at[index]!.push(second);
    });
  }
  return { events, at };
}

const three = (turned?: (second: number) => Matrix | null) => [
  { set: turn([0, 0, 1], 10), ...(turned ? { turned } : {}) },
  { set: turn([1, 0, 0], 90) },
  { set: turn([1, 1, 0], 137) },
];
const turnedEvents = (events: MotionEvent[]) => events.filter(({ kind }) => kind === 'turned');
/** Stop and go in town: brakes at 3 m/s² for four seconds of each half minute, corners in between. */
const town = (second: number): Vector => {
  const phase = second % 30;
  if (phase < 4) return [-3, 0, 0];
  if (phase >= 10 && phase < 14) return [1.5, 0, 0];
  return phase >= 18 && phase < 22 ? [0, 2.5, 0] : [0, 0, 0];
};

describe('a mount that stays', () => {
  it('is learned in ten seconds and never called turned in an hour of town traffic', () => {
    const { events, at } = drive(3600, three(), { acceleration: town }, 0.6);
    for (const [index, list] of events.entries()) {
      expect(list.map(({ kind }) => kind)).toEqual(['learned']);
      expect(at[index]![0]).toBeLessThan(40);
    }
  });

  it.each([
    ['a road of 10 %', 5.71],
    ['a ramp of 25 %', 14],
    ['a lift that stands askew by 30 degrees', 30],
  ])('is not called turned while the whole vehicle stands on %s', (_, deg) => {
    const { events } = drive(1200, three(), { slopeDeg: (s) => (s > 120 ? deg : 0) });
    expect(events.flatMap(turnedEvents)).toEqual([]);
  });

  it('alone on its vehicle, is not called turned on a ramp of 25 %', () => {
    const { events } = drive(1200, [{ set: turn([1, 2, 3], 40) }], { slopeDeg: (s) => (s > 120 ? 14 : 0) });
    expect(events.flatMap(turnedEvents)).toEqual([]);
  });

  it('is not called turned for half a minute in which somebody holds it askew', () => {
    const held = (s: number) => (s > 200 && s < 230 ? turn([1, 0, 0], 60) : null);
    expect(drive(600, three(held)).events.flatMap(turnedEvents)).toEqual([]);
  });
});

describe('a mount that turns in its clamp', () => {
  it.each([
    ['standing', {}, 0.05],
    ['in town traffic', { acceleration: town }, 0.6],
    ['on a slope', { slopeDeg: (s: number) => (s > 250 ? 5.71 : 0) }, 0.05],
  ])('is found %s, and only it, with angle and time', (_, ride, noise) => {
    const slipped = (s: number) => (s >= 300 ? turn([1, 0, 0], 25) : null);
    const { events } = drive(600, three(slipped), ride, noise);
    expect(events.slice(1).flatMap(turnedEvents)).toEqual([]);
    const [event] = turnedEvents(events[0]!);
    expect(event).toMatchObject({ kind: 'turned', reachesBack: false });
    if (event?.kind !== 'turned') return;
    expect(event.sinceMs / 1000).toBeGreaterThanOrEqual(296);
    expect(event.sinceMs / 1000).toBeLessThanOrEqual(304);
    // Slope and braking add to what is seen of it.
    expect(Math.abs(event.turnedDeg - 25)).toBeLessThan(8);
    // Afterwards its new direction is learned, and it is not found again.
    expect(events[0]!.map(({ kind }) => kind)).toEqual(['learned', 'turned', 'learned']);
  });

  it('is found within a minute and a half', () => {
    const slipped = (s: number) => (s >= 300 ? turn([0, 1, 0], 12) : null);
    const { at } = drive(600, three(slipped));
    expect(at[0]![1]).toBeLessThan(390);
  });

  it('is not found below the limit', () => {
    const slipped = (s: number) => (s >= 300 ? turn([0, 1, 0], 8) : null);
    expect(drive(900, three(slipped)).events.flatMap(turnedEvents)).toEqual([]);
  });

  it('alone on its vehicle, is found when it turns by more than a road could', () => {
    const slipped = (s: number) => (s >= 300 ? turn([0, 1, 0], 22) : null);
    const { events } = drive(600, [{ set: turn([0, 0, 1], 0), turned: slipped }]);
    expect(turnedEvents(events[0]!)).toHaveLength(1);
  });
});

describe('learning', () => {
  it('waits until the clamp is left alone', () => {
    const motion = new MountMotion();
    const limits = { turnDeg: 10, aloneDeg: 0 };
    let learnedAt: number | null = null;
    for (let second = 0; second < 60 && learnedAt === null; second++) {
      const deg = second < 30 ? 12 * second : 360;
      const event = motion.take(1000 * second, apply(turn([1, 0, 0], deg), [0, 0, G]), [], limits);
      if (event?.kind === 'learned') learnedAt = second;
    }
    expect(learnedAt).toBeGreaterThanOrEqual(35);
    expect(learnedAt).toBeLessThanOrEqual(40);
  });

  it('never ends without gravity in the signal', () => {
    const motion = new MountMotion();
    for (let second = 0; second < 100; second++)
      expect(motion.take(1000 * second, [0.1, 0, 0.2], [], { turnDeg: 10, aloneDeg: 0 })).toBeNull();
  });

  it('goes on from a direction learned before', () => {
    const motion = new MountMotion([0, 0, G]);
    const turned = apply(turn([1, 0, 0], 40), [0, 0, G]);
    const events = Array.from({ length: 60 }, (_, s) =>
      motion.take(1000 * s, turned, [], { turnDeg: 10, aloneDeg: 0 }),
    ).filter((event) => event !== null);
    expect(events[0]).toMatchObject({ kind: 'turned', sinceMs: 0, reachesBack: true });
    expect(events[0]!.kind === 'turned' && events[0]!.turnedDeg).toBeCloseTo(40, 6);
  });
});
