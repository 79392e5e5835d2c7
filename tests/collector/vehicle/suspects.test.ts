import { describe, expect, it } from 'vitest';
import {
  MANOEUVRES,
  type Observation,
  reviewSuspects,
  troubleCodeNote,
} from '../../../collector/vehicle/index.ts';

const staying = (observations: Observation[]) =>
  reviewSuspects(observations)
    .suspects.filter(({ standing }) => standing === 'stays')
    .map(({ id }) => id);

describe('which suspects stay', () => {
  it('all of them before anything was done, and the next manoeuvre splits them', () => {
    const review = reviewSuspects([]);
    expect(review.suspects.every(({ standing }) => standing === 'stays')).toBe(true);
    expect(review.nextManoeuvre).not.toBeNull();
  });

  it('a noise that stays while rolling in neutral belongs to the road side', () => {
    const review = reviewSuspects([
      { manoeuvre: 'steady-cruise', noise: 'present' },
      { manoeuvre: 'coast-in-neutral', noise: 'present' },
      { manoeuvre: 'engine-at-rest', noise: 'absent' },
      { manoeuvre: 'coast-in-gear', noise: 'present' },
      { manoeuvre: 'other-gear', noise: 'present', pitch: 'same' },
    ]);
    expect(review.suspects.filter(({ standing }) => standing === 'stays').map(({ id }) => id)).toEqual([
      'axle-gears',
      'road-speed',
    ]);
    expect(review.inseparable).toEqual(['axle-gears', 'road-speed']);
    expect(review.suspects.find(({ id }) => id === 'engine-speed')!.standing).toBe('unlikely');
    expect(review.sentence).toMatch(/proves nothing by itself/);
  });

  it('a noise there at rest with engine speed belongs to the engine side', () => {
    expect(
      staying([
        { manoeuvre: 'engine-at-rest', noise: 'present' },
        { manoeuvre: 'coast-in-neutral', noise: 'absent' },
        { manoeuvre: 'steady-cruise', noise: 'present' },
        { manoeuvre: 'other-gear', noise: 'present', pitch: 'changed' },
      ]),
    ).toEqual(['engine-speed', 'torque-reaction']);
  });

  it('a noise under load only leaves what load brings', () => {
    expect(
      staying([
        { manoeuvre: 'pull-under-load', noise: 'present' },
        { manoeuvre: 'steady-cruise', noise: 'absent' },
        { manoeuvre: 'coast-in-gear', noise: 'absent' },
        { manoeuvre: 'engine-at-rest', noise: 'absent' },
      ]),
    ).toEqual(['converter-or-clutch', 'joints-loaded', 'torque-reaction']);
  });

  it('says so when nothing fits', () => {
    const review = reviewSuspects([
      { manoeuvre: 'pull-under-load', noise: 'absent' },
      { manoeuvre: 'engine-at-rest', noise: 'absent' },
    ]);
    expect(review.sentence).toMatch(/do not fit one cause/);
    expect(review.nextManoeuvre).toBeNull();
  });

  it('an unclear observation changes nothing', () => {
    expect(reviewSuspects([{ manoeuvre: 'coast-in-neutral', noise: 'unclear' }]).suspects).toEqual(
      reviewSuspects([]).suspects,
    );
  });

  it('each manoeuvre that can hurt someone carries a caution', () => {
    for (const { cautions, instruction } of MANOEUVRES) {
      expect(cautions.length).toBeGreaterThan(0);
      expect(instruction.length).toBeGreaterThan(20);
    }
  });
});

describe('trouble codes', () => {
  it('keep the generic meaning of the gear-ratio family as support', () => {
    expect(troubleCodeNote(' p0733 ')).toMatchObject({ code: 'P0733', meaning: 'Gear 3 incorrect ratio' });
    expect(troubleCodeNote('P0741').supports).toMatch(/compare with the measured converter slip/);
    expect(troubleCodeNote('P0741').provenance).toMatch(/SAE J2012.*from memory/);
  });
  it("note others without a meaning, makers' own as such", () => {
    expect(troubleCodeNote('P0300')).toMatchObject({ meaning: null, supports: null });
    expect(troubleCodeNote('P1740').provenance).toMatch(/maker's own/);
  });
  it('refuse what is no code', () => {
    expect(() => troubleCodeNote('0741')).toThrow(/no trouble code/);
  });
});
