import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { answer, type Source } from '../../../collector/inquiry/index.ts';
import { openWav } from '../../../collector/wav/open-wav.ts';
import { gaussian } from '../../../dashboard/virtual/synth/random.ts';
import { noisyRun, SECONDS } from '../../support/noisy-run.ts';
import { encodeSamples, wavBytes } from '../../support/wav-bytes.ts';
import { journalOf } from '../capture/journal-of.ts';

/** Whole second, so that spans below are easy to read. */
const START_S = 1_760_000_000;
const ms = (s: number) => (START_S + s) * 1000;

describe('questions about a run in the journal', () => {
  let journal: Awaited<ReturnType<typeof journalOf>>;
  let source: Extract<Source, { kind: 'journal' }>;
  const only = (locationId: number): Source => ({
    ...source,
    places: source.places.filter((place) => place.locationId === locationId),
  });
  beforeAll(async () => {
    journal = await journalOf(noisyRun(START_S));
    const whole = { fromMs: ms(0), toMs: ms(SECONDS) };
    const place = (locationId: number, name: string, nodeId: string, sensor: number) => ({
      locationId,
      name,
      stays: [{ nodeId, sensor, ...whole }],
    });
    source = {
      kind: 'journal',
      journalDir: journal.dir,
      places: [
        place(1, 'pinion bearing of the rear axle', '00000000000000a1', 0),
        place(2, 'wheel bearing of the rear axle', '00000000000000a1', 1),
        place(3, 'output bearing of the gearbox', '00000000000000b2', 0),
        place(4, 'nose of the gearbox', '00000000000000b2', 5),
      ],
    };
  });
  afterAll(() => journal.remove());

  it('names the place that leads in the marked seconds, over the quiet ones, and says what it rests on', async () => {
    const found = await answer('compare', {
      source,
      span: { fromMs: ms(2), toMs: ms(58) },
      marks: [{ atMs: ms(21), endMs: ms(34) }],
      conditions: [],
    });
    const { verdict, quietWindows } = found.comparison;
    expect(verdict.kind).toBe('leads');
    expect(verdict.locationId).toBe('1');
    // 2 against 0.5 and 0.4: 12.0 and 14.0 dB by construction.
    expect(Math.abs(verdict.leadDb! - 12.04)).toBeLessThan(verdict.uncertaintyDb!);
    expect(verdict.sentence).toMatch(
      /^Pinion bearing of the rear axle leads at \d+-\d+ Hz by 1[123]\.\d ± \d\.\d dB/,
    );
    expect(found.noiseSeconds).toBe(14);
    expect(quietWindows.length).toBeGreaterThan(20);
    expect(found.marks!.rises[0]!.locationId).toBe('1');
    expect(found.missing).toEqual([
      { locationId: 4, name: 'nose of the gearbox', reason: 'no samples in these seconds' },
    ]);
    expect(found.notes.join()).toMatch(/Speed and gear are not known/);
    const link = found.comparison.connections.find(
      ({ firstId, secondId }) => `${firstId}${secondId}` === '12',
    );
    expect(link!.kind).toBe('shared');
  });

  it('compares only quiet seconds of a like speed, and tells how many were left out', async () => {
    const speed = (s: number) => (s < 40 ? 50 : 80);
    const atMs = Array.from({ length: SECONDS }, (_, s) => ms(s));
    const found = await answer('compare', {
      source,
      span: { fromMs: ms(2), toMs: ms(58) },
      marks: [{ atMs: ms(21), endMs: ms(34) }],
      conditions: [{ quantity: 'roadSpeedKmH', atMs, value: atMs.map((_, s) => speed(s)) }],
    });
    expect(found.notes).toEqual([
      '18 quiet seconds were left out: they had another speed or gear than the noise.',
    ]);
    expect(Math.max(...found.seconds)).toBeLessThan(START_S + 40);
  });

  it('says in words why it cannot compare', async () => {
    const question = { source: only(1), span: { fromMs: ms(2), toMs: ms(30) }, marks: [], conditions: [] };
    await expect(answer('compare', question)).rejects.toThrow(/samples of 1 location were recorded/);
    const empty = { source, span: { fromMs: ms(2), toMs: ms(2.5) }, marks: [], conditions: [] };
    await expect(answer('compare', empty)).rejects.toThrow(/no whole second/);
  });

  async function samplesOf(wav: Uint8Array) {
    const folder = await mkdtemp(join(tmpdir(), 'clampline-sound-'));
    await writeFile(join(folder, 'a.wav'), wav);
    const file = await openWav(join(folder, 'a.wav'));
    const values: number[] = [];
    for await (const [chunk] of file.chunks(65536)) values.push(...chunk!);
    const { sampleRateHz } = file;
    await file.close();
    await rm(folder, { recursive: true, force: true });
    return { values, sampleRateHz };
  }
  /** Amplitude of a tone by correlation. */
  const toneOf = (values: readonly number[], hz: number, rate: number) => {
    let [re, im] = [0, 0];
    values.forEach((v, k) => {
      re += v * Math.cos((2 * Math.PI * hz * k) / rate);
      im += v * Math.sin((2 * Math.PI * hz * k) / rate);
    });
    return { amplitude: (2 * Math.hypot(re, im)) / values.length, phase: Math.atan2(re, im) };
  };

  it('renders sound: the right pitch, level and moment, limited below full scale', async () => {
    const sound = await answer('sound', { source: only(1), span: { fromMs: ms(40), toMs: ms(44) } });
    const { values, sampleRateHz } = await samplesOf(sound.wav);
    expect(sampleRateHz).toBe(24_000);
    expect(values).toHaveLength(96_000);
    const peak = Math.max(...values.map(Math.abs));
    expect(peak).toBeLessThanOrEqual(10 ** (-1 / 20) + 1e-3);
    expect(peak).toBeGreaterThan(0.85);
    // 0.5 m/s² RMS at 200 Hz, beside 0.1 m/s² of background.
    const { amplitude, phase } = toneOf(values, 200, sampleRateHz);
    expect((amplitude * sound.fullScaleMPerS2) / Math.SQRT2).toBeCloseTo(0.5, 2);
    expect(sound.rmsMPerS2).toBeCloseTo(Math.hypot(0.5, 0.1), 1);
    // Starts on a whole second, where the tone's phase is 0; 2 ms of clock and the 20 Hz filter may turn it.
    expect(Math.abs(phase)).toBeLessThan(2 * Math.PI * 200 * 0.0025);
    expect(sound.gaps).toEqual([]);
  });

  it('says which axes there are where another is asked for', async () => {
    const span = { fromMs: ms(5), toMs: ms(6) };
    for (const kind of ['sound', 'picture'] as const)
      await expect(answer(kind, { source: only(1), span, axis: 'y' })).rejects.toThrow(
        /^axis y was not recorded here; recorded: x$/,
      );
  });

  it('parts rendered one after the other join without a step', async () => {
    const part = (from: number, to: number) =>
      answer('sound', { source: only(1), span: { fromMs: ms(from), toMs: ms(to) }, bandHz: [150, 250] });
    const sounds = [await part(40, 42), await part(42, 44)];
    const whole = (
      await Promise.all(
        sounds.map(async ({ wav, fullScaleMPerS2 }) =>
          (await samplesOf(wav)).values.map((value) => value * fullScaleMPerS2),
        ),
      )
    ).flat();
    const steps = whole.slice(1).map((value, k) => Math.abs(value - whole[k]!));
    const atJoin = steps[2 * 24_000 - 1]!;
    expect(atJoin).toBeLessThanOrEqual(1.2 * Math.max(...steps.slice(24_000, 47_000)));
  });

  it('leaves only the band asked for', async () => {
    const render = (bandHz: [number, number]) =>
      answer('sound', { source: only(1), span: { fromMs: ms(40), toMs: ms(43) }, bandHz });
    const [around, above] = [await render([140, 280]), await render([800, 1200])];
    expect(around.rmsMPerS2).toBeCloseTo(0.47, 1);
    expect(above.rmsMPerS2).toBeLessThan(0.1);
    await expect(render([2000, 3000])).rejects.toThrow(/reaches only to/);
  });

  it('pictures level over time: the tone all along, the noise in its seconds', async () => {
    const picture = await answer('picture', { source: only(1), span: { fromMs: ms(5), toMs: ms(55) } });
    expect([picture.columns, picture.rows]).toEqual([Math.ceil(50_000 / picture.columnMs), 128]);
    const db = (s: number, hz: number) => {
      const column = Math.floor(((s - 5) * 1000) / picture.columnMs);
      const byte = picture.levels[column * picture.rows + Math.floor(hz / picture.stepHz)]!;
      return picture.lowDb + byte * picture.stepDb;
    };
    // 0.5 m/s² RMS re 1 µm/s² is 114 dB; the row may hold the tone between two lines (Hann: 1.4 dB lower).
    expect(db(10, 200)).toBeGreaterThan(111.5);
    expect(db(10, 200)).toBeLessThan(115);
    expect(db(28, 900) - db(10, 900)).toBeGreaterThan(15);
    expect(db(45, 900)).toBeLessThan(db(28, 900) - 15);
  });

  it('gives the samples out as WAV with a description, and reads them in again alike', async () => {
    const span = { fromMs: ms(10), toMs: ms(50) };
    const { wav, description } = await answer('export', { source: only(1), span });
    const folder = await mkdtemp(join(tmpdir(), 'clampline-export-'));
    const path = join(folder, 'axle.wav');
    await writeFile(path, wav);
    expect(description).toMatchObject({
      format: 'clampline-recording',
      unit: 'm/s2',
      gaps: [],
      fullScale: 40,
    });
    const again: Source = {
      kind: 'files',
      files: [
        {
          frames: null,
          timeUncertaintyMs: 0,
          clipped: [],
          path,
          startMs: description.startMs,
          sampleRateHz: description.sampleRateHz,
          fullScaleMPerS2: description.fullScale,
          places: [{ locationId: 1, name: 'axle', board: 'x', channels: [{ channel: 0, axis: 'x' }] }],
        },
      ],
    };
    const question = { span: { fromMs: ms(40), toMs: ms(43) } };
    const [before, after] = [
      await answer('sound', { source: only(1), ...question }),
      await answer('sound', { source: again, ...question }),
    ];
    expect(after.rmsMPerS2 / before.rmsMPerS2).toBeCloseTo(1, 3);
    expect(after.peakMPerS2 / before.peakMPerS2).toBeCloseTo(1, 2);
    await rm(folder, { recursive: true, force: true });
  });
});

describe('tap test', () => {
  it('finds frequency and damping of raps, and tells left from right', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'clampline-tap-'));
    const rate = 6400;
    const noise = gaussian(3);
    // Damped sines by construction: 180 Hz at 2 % left, 150 Hz at 3 % right; five raps each.
    const side = (hz: number, damping: number) =>
      Float64Array.from({ length: 8 * rate }, (_, k) => {
        const since = (k / rate - 1) % 1.2;
        const w = 2 * Math.PI * hz;
        const ring =
          k / rate < 1 || since > 1.1 ? 0 : 20 * Math.exp(-damping * w * since) * Math.sin(w * since);
        return (ring + 0.05 * noise()) / 40;
      });
    const [left, right] = [side(180, 0.02), side(150, 0.03)];
    const both = Float64Array.from(
      { length: 2 * left.length },
      (_, i) => (i % 2 === 0 ? left : right)[i >> 1]!,
    );
    const path = join(folder, 'taps.wav');
    await writeFile(path, wavBytes(encodeSamples(both, 16), { sampleRateHz: rate, channelCount: 2 }));
    const source = (channel: number): Source => ({
      kind: 'files',
      files: [
        {
          frames: null,
          timeUncertaintyMs: 0,
          clipped: [],
          path,
          startMs: 0,
          sampleRateHz: rate,
          fullScaleMPerS2: 40,
          places: [
            { locationId: channel, name: 'shield', board: 'x', channels: [{ channel, axis: 'single' }] },
          ],
        },
      ],
    });
    const span = { fromMs: 0, toMs: 8000 };
    const tap = await answer('tap', { source: source(0), span });
    expect(tap.raps).toBeGreaterThanOrEqual(4);
    expect(Math.abs(tap.modes[0]!.frequencyHz - 180 * Math.sqrt(1 - 0.02 ** 2))).toBeLessThan(1);
    expect(Math.abs(tap.modes[0]!.dampingRatio - 0.02)).toBeLessThan(0.003);
    const sides = await answer('sides', {
      part: 'shield',
      left: { source: source(0), span },
      right: { source: source(1), span },
    });
    expect(sides.pairs[0]!.frequencyDiffers).toBe(true);
    expect(sides.sentence).toMatch(/left shield rings at 1(79|80)\.\d.*right one at 1(49|50)\.\d/);
    const silent = await answer('tap', { source: source(0), span: { fromMs: 0, toMs: 900 } });
    expect(silent).toMatchObject({ raps: 0, modes: [], problem: expect.stringContaining('no rap') });
    await rm(folder, { recursive: true, force: true });
  });
});
