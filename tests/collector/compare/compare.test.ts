import { describe, expect, it } from 'vitest';
import { compareLocations, compareMarks, type LocationRecord } from '../../../collector/compare/index.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';

const RATE = 3200;
const SECONDS = 20;
const white = (seed: number, sigma = 1, seconds = SECONDS) => {
  const random = seededRandom(seed);
  return Float64Array.from({ length: RATE * seconds }, () => sigma * gaussian(random));
};
const plus = (...parts: Float64Array[]) =>
  parts[0]!.map((_, k) => parts.reduce((sum, part) => sum + part[k]!, 0));
const scaled = (samples: Float64Array, gain: number, delay = 0) =>
  samples.map((_, k) => gain * (samples[k - delay] ?? 0));
const at = (id: string, samples: Float64Array, more: Partial<LocationRecord> = {}): LocationRecord => ({
  id,
  name: id.replace('-', ' '),
  board: 'one',
  sampleRateHz: RATE,
  axes: [samples],
  ...more,
});

const source = white(1);
const axle = at('rear-axle', plus(source, white(2, 0.1)));
const gearbox = at('gearbox', plus(scaled(source, 0.5, 7), white(3, 0.1)));

describe('comparing locations over the same seconds', () => {
  it('names the location that leads in all bands, with its support in one sentence', () => {
    const { verdict, bands, connections, toleranceDb } = compareLocations({ locations: [gearbox, axle] });
    expect(verdict).toMatchObject({
      kind: 'leads',
      locationId: 'rear-axle',
      by: 'level',
      againstId: 'gearbox',
      windowsLed: 20,
      windows: 20,
    });
    // Half the amplitude is 6.02 dB less, together with the backgrounds 5.9.
    expect(Math.abs(verdict.leadDb! - 5.9)).toBeLessThan(0.2);
    expect(verdict.sentence).toMatch(
      /^Rear axle leads at \d+-\d+ Hz by 5\.\d ± 1\.\d dB in 20 of 20 windows; what the gearbox shows there is coherent with it \(0\.9\d\), so likely carried over\.$/,
    );
    expect(connections[0]).toMatchObject({ kind: 'shared', comodulation: null });
    // Two sensors of 10 %: 2 x sqrt 2 x 20 log10(1.1) / sqrt 3.
    expect(toleranceDb).toBeCloseTo(1.3518, 3);
    expect(bands.every(({ leaderId }) => leaderId === 'rear-axle')).toBe(true);
  });

  it('survives a trip through JSON', () => {
    const result = compareLocations({ locations: [gearbox, axle] });
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
  });

  it('is not clear within the tolerance of the sensors, and says to swap them', () => {
    const near = at('gearbox', plus(scaled(source, 0.9, 7), white(3, 0.1)));
    const { verdict } = compareLocations({ locations: [near, axle] });
    expect(verdict).toMatchObject({
      kind: 'not-clear',
      locationId: null,
      doubts: ['within-uncertainty'],
      nextMeasurement: { code: 'swap-sensors' },
    });
    expect(verdict.sentence).toMatch(
      /^Not clear: the rear axle is 0\.\d dB ahead of the gearbox.*To settle it, swap the two sensors/,
    );
  });

  it('stated uncertainty of a lead holds: sensors off by their tolerance', () => {
    let held = 0;
    for (let seed = 50; seed < 90; seed++) {
      const random = seededRandom(seed);
      const off = () => 1 + 0.1 * (2 * random() - 1);
      const s = white(seed, 1, 6);
      const locations = [
        at('a', scaled(s, off())),
        at('b', plus(scaled(s, 0.5 * off()), white(seed + 100, 0.001, 6))),
      ];
      const { leadDb, uncertaintyDb } = compareLocations({ locations }).verdict;
      if (leadDb !== null && Math.abs(leadDb - 6.0206) <= uncertaintyDb!) held++;
    }
    expect(held).toBeGreaterThanOrEqual(36);
  });

  it('a lead that reverses between bands with high coherence is not clear', () => {
    // Through a low-pass and back up: the far place is louder below, quieter above.
    let y = 0;
    const far = source.map((v) => {
      y = 0.85 * y + 0.6 * v;
      return y;
    });
    const { verdict } = compareLocations({ locations: [axle, at('gearbox', plus(far, white(3, 0.05)))] });
    expect(verdict.kind).toBe('not-clear');
    expect(verdict.doubts).toContain('reversal-shared');
    expect(verdict.nextMeasurement!.code).toBe('tap-path');
  });

  it('two noises in different bands, not coherent: asks for marks', () => {
    const low = (samples: Float64Array) => {
      let v = 0;
      return samples.map((x) => {
        v = 0.9 * v + 0.3 * x;
        return v;
      });
    };
    const high = white(11).map((v, k, all) => 0.9 * (v - (all[k - 1] ?? 0)));
    const { verdict } = compareLocations({
      locations: [
        at('front', plus(low(white(10)), white(12, 0.02))),
        at('rear', plus(high, white(13, 0.02))),
      ],
    });
    expect(verdict.kind).toBe('not-clear');
    expect(verdict.doubts).toContain('reversal-separate');
    expect(verdict.nextMeasurement!.code).toBe('mark-noise');
  });

  it('a single tone is in one band only: not clear, vary the speed', () => {
    const tone = (size: number) =>
      Float64Array.from(
        { length: RATE * SECONDS },
        (_, k) => size * Math.sin((2 * Math.PI * 410 * k) / RATE),
      );
    const { verdict } = compareLocations({
      locations: [
        at('front', plus(tone(1), white(14, 0.001))),
        at('rear', plus(tone(0.4), white(15, 0.001))),
      ],
    });
    expect(verdict).toMatchObject({ kind: 'not-clear', nextMeasurement: { code: 'vary-speed' } });
  });

  it('compares only what the noise adds where quiet seconds are marked', () => {
    // The front is always loud by itself; the noise is made at the rear.
    const marks = Array.from({ length: SECONDS }, (_, w) =>
      w < 10 ? ('quiet' as const) : ('noise' as const),
    );
    const sound = white(16).map((v, k) => (k < 10 * RATE ? 0 : v));
    const front = at('front', plus(white(17, 1.5), scaled(sound, 0.3, 9)));
    const rear = at('rear', plus(white(18, 0.3), sound));
    expect(compareLocations({ locations: [front, rear] }).verdict.locationId).not.toBe('rear');
    const { verdict, quietWindows } = compareLocations({ locations: [front, rear], marks });
    expect(quietWindows).toHaveLength(10);
    expect(verdict.locationId).toBe('rear');
  });

  it('uses only seconds that are sound at every location', () => {
    const broken = axle.axes[0]!.slice();
    broken.fill(500, 3 * RATE, 5 * RATE);
    const { windows, verdict } = compareLocations({
      locations: [
        { ...axle, axes: [broken], unusableWindows: [3, 4] },
        { ...gearbox, unusableWindows: [7] },
      ],
    });
    expect(windows).toHaveLength(17);
    expect(windows).not.toContain(3);
    expect(verdict.locationId).toBe('rear-axle');
  });

  it('takes locations at different rates on different boards, and compares their levels over time', () => {
    const swell = (k: number) => 1 + 0.7 * Math.sin((2 * Math.PI * 0.8 * k) / RATE);
    const s = source.map((v, k) => v * swell(k));
    const half = Float64Array.from(
      { length: s.length / 2 },
      (_, k) => 0.5 * ((s[2 * k - 1] ?? 0) / 4 + s[2 * k]! / 2 + s[2 * k + 1]! / 4) * 1.6,
    );
    const { connections, verdict } = compareLocations({
      locations: [
        at('a', s, { timeUncertaintyMs: 5 }),
        at('b', half, { board: 'two', sampleRateHz: RATE / 2, timeUncertaintyMs: 20 }),
      ],
      bandHz: [40, 400],
    });
    expect(connections[0]!.coherence).toBeNull();
    expect(connections[0]!.comodulation).toMatchObject({ significant: true, clockErrorMs: 25 });
    expect(verdict.sentence).toMatch(/^Not clear|clocks within 25 ms/);
  });

  it('asks for more where too little was recorded', () => {
    const short = (record: LocationRecord) => ({ ...record, axes: [record.axes[0]!.subarray(0, 3 * RATE)] });
    const { verdict } = compareLocations({ locations: [short(axle), short(gearbox)] });
    expect(verdict).toMatchObject({
      kind: 'not-clear',
      doubts: ['too-few-windows'],
      nextMeasurement: { code: 'record-longer' },
    });
  });

  it('answers also where no second is usable, or a defect frequency needs a faster sensor', () => {
    const none = { ...axle, unusableWindows: Array.from({ length: SECONDS }, (_, w) => w) };
    const { verdict, bands } = compareLocations({ locations: [none, gearbox], defectHz: 20 });
    expect(verdict.doubts).toEqual(['too-few-windows']);
    expect(bands).toEqual([]);
    const { cautions, defectLine } = compareLocations({ locations: [axle, gearbox], defectHz: 400 });
    expect(defectLine).toBeNull();
    expect(cautions.join()).toMatch(/use a faster sensor/);
  });

  it('says that boards without a clock may not show the same seconds', () => {
    const { cautions } = compareLocations({
      locations: [axle, { ...gearbox, board: 'two', timeUncertaintyMs: null }],
    });
    expect(cautions.join()).toMatch(/has not exchanged time/);
  });

  it('silence stands out nowhere', () => {
    const { verdict } = compareLocations({
      locations: [at('a', new Float64Array(64_000)), at('b', new Float64Array(64_000))],
    });
    expect(verdict).toMatchObject({ kind: 'not-clear', doubts: ['nothing-stands-out'] });
  });

  it('keeps bands near the noise floor of a sensor out', () => {
    const noisy = { noiseDensityMPerS2PerSqrtHz: 1 };
    const { verdict } = compareLocations({
      locations: [
        { ...axle, ...noisy },
        { ...gearbox, ...noisy },
      ],
    });
    expect(verdict.doubts).toContain('nothing-stands-out');
  });

  it.each([
    [{ locations: [axle] }, /two locations or more/],
    [{ locations: [axle, axle] }, /rear axle \(rear-axle\): it is named twice/],
    [{ locations: [axle, at('b', white(1, 1, 0))] }, /shorter than one window/],
    [{ locations: [axle, { ...gearbox, axes: [] }] }, /gearbox.*no axis/],
    [{ locations: [axle, { ...gearbox, axes: [source, source.subarray(1)] }] }, /axis 2 has 63999 samples/],
    [{ locations: [axle, at('b', Float64Array.of(0, Number.NaN))] }, /sample 1 of axis 1 is no number/],
    [{ locations: [axle, { ...gearbox, sampleRateHz: 0 }] }, /sample rate/],
    [{ locations: [axle, { ...gearbox, toleranceShare: 2 }] }, /tolerance is a share/],
    [{ locations: [axle, gearbox], windowS: 0 }, /longer than 0 s/],
    [{ locations: [axle, gearbox], defectHz: -1 }, /defect frequency must be over 0/],
    [{ locations: [axle, gearbox], marks: ['noise' as const] }, /1 marks for 20 windows/],
    [{ locations: [axle, gearbox], bandHz: [400, 300] as [number, number] }, /a lower and a higher/],
    [{ locations: [axle, gearbox], bandHz: [1400, 1405] as [number, number] }, /reach only to 1250 Hz/],
  ])('refuses a bad question and names what is wrong (%#)', (question, message) => {
    expect(() => compareLocations(question)).toThrow(message);
  });
});

describe('noise seconds against quiet seconds', () => {
  const marks = Array.from({ length: SECONDS }, (_, w) =>
    w % 2 === 0 ? ('quiet' as const) : ('noise' as const),
  );
  const sound = white(30, 1).map((v, k) => (Math.floor(k / RATE) % 2 === 0 ? 0 : v));

  it('says where it rises most', () => {
    const { rises, sentence } = compareMarks({
      locations: [
        at('rear-axle', plus(sound, white(31, 0.4))),
        at('gearbox', plus(scaled(sound, 0.3), white(32, 0.4))),
      ],
      marks,
    });
    expect(rises[0]!.locationId).toBe('rear-axle');
    // 10 log10(1 + 1/0.16) = 8.6 dB.
    const axleRises = rises
      .filter(({ locationId }) => locationId === 'rear-axle')
      .map(({ changeDb }) => changeDb);
    expect(axleRises.reduce((sum, v) => sum + v, 0) / axleRises.length).toBeCloseTo(8.6, 0);
    expect(sentence).toMatch(/^With the noise the rear axle rises most, by .*; the gearbox rises less\.$/);
  });

  it('finds nothing where nothing changed: at most one table in a hundred', () => {
    let tables = 0;
    for (let seed = 300; seed < 340; seed++) {
      const { changes } = compareMarks({
        locations: [at('a', white(seed)), at('b', white(seed + 1000))],
        marks,
      });
      if (changes.some(({ significant }) => significant)) tables++;
    }
    expect(tables).toBeLessThanOrEqual(3);
  });

  it('takes one location alone, and refuses too few marks', () => {
    expect(
      compareMarks({ locations: [at('a', plus(sound, white(33)))], marks }).rises.length,
    ).toBeGreaterThan(0);
    expect(() =>
      compareMarks({ locations: [at('a', sound)], marks: marks.map(() => 'noise' as const) }),
    ).toThrow(/0 without it.*mark at least 3/);
  });
});
