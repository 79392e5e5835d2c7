import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { answer, type Question, type Source } from '../../../collector/inquiry/index.ts';
import { DRIVE_SECONDS, engineHz, varyingDrive, wheelTurnsPerS } from '../../support/varying-drive.ts';
import { journalOf } from '../capture/journal-of.ts';

const START_S = 1_760_000_000;
const NODE = '00000000000000a1';
const ms = (s: number) => 1000 * (START_S + s);

type Speed = Question<'orderLock'>['speeds'][number];

function told(name: string, hz: (t: number) => number, extra: Partial<Speed> = {}): Speed {
  const times = Array.from({ length: 5 * DRIVE_SECONDS + 1 }, (_, k) => k / 5);
  return { name, shafts: [], per: 'turn', atMs: times.map(ms), hz: times.map(hz), ...extra };
}

describe('what does it follow?', () => {
  let journal: Awaited<ReturnType<typeof journalOf>>;
  let source: Source;
  const span = { fromMs: ms(0), toMs: ms(DRIVE_SECONDS) };
  beforeAll(async () => {
    journal = await journalOf(varyingDrive(NODE, START_S));
    const stays = [{ nodeId: NODE, sensor: 0, ...span }];
    source = { kind: 'journal', journalDir: journal.dir, places: [{ locationId: 1, name: 'axle', stays }] };
  });
  afterAll(() => journal.remove());

  const engine = told('engine', engineHz);
  const wheel = told('wheel', wheelTurnsPerS, {
    shafts: [
      { name: 'wheel', order: 1 },
      { name: 'propeller shaft', order: 3.9 },
    ],
  });
  const train = {
    shafts: ['engine', 'propeller shaft', 'wheel'],
    couplings: [],
    parts: [{ kind: 'universal-joint' as const, name: 'rear joint', shaft: 'propeller shaft' }],
  };

  it('names for each tone the speed it follows, what turns with it, what is expected there and what is ruled out', async () => {
    const found = await answer('orderLock', { source, span, speeds: [engine, wheel], train });
    expect(found.sentence).toBe('3 tones stand out.');
    expect(found.axis).toBe('x');
    const sentences = found.tones.map((tone) => tone.sentence);
    expect(sentences[0]).toMatch(
      /^\d\d Hz on average: follows wheel \(order 7\.8\)\. Over 99 % sure\. In one fixed ratio with it, so that no measurement can part them: propeller shaft \(order 2\.0\)\. Expected there: universal joint rear joint\. Ruled out: engine\.$/,
    );
    expect(sentences[1]).toMatch(
      /^\d\d Hz on average: follows engine \(order 2\.0\)\..* Ruled out: wheel\.$/,
    );
    expect(sentences[2]).toMatch(
      /^120 Hz on average: follows no known speed: it stays while they change\..* Ruled out: engine and wheel\.$/,
    );
    expect(found.tones.map(({ amplitudeRms }) => amplitudeRms * Math.SQRT2)).toEqual([
      expect.closeTo(1.2, 1),
      expect.closeTo(0.9, 1),
      expect.closeTo(0.5, 1),
    ]);
  });

  it('names speeds together that kept one ratio, and says what would part them', async () => {
    const turbine = told('turbine', (t) => 0.4 * engineHz(t));
    const found = await answer('orderLock', { source, span, speeds: [engine, turbine, wheel] });
    const tone = found.tones.find(({ speeds }) => speeds.some(({ name }) => name === 'engine'))!;
    expect(tone.sentence).toMatch(
      /follows engine \(order 2\.0\) or turbine \(order 5\.0\)\..*would tell them apart\..*Ruled out: wheel\.$/,
    );
  });

  it('says that it cannot say, and why', async () => {
    const steady = told('engine', () => 30);
    const still = await answer('orderLock', { source, span, speeds: [steady] });
    expect(still.sentence).toMatch(/cannot be said|it can be said/);
    expect(
      still.tones.some(({ sentence }) => /cannot say, because the speed varied too little/.test(sentence)),
    ).toBe(true);
    expect(still.tones.every(({ verdict }) => verdict !== 'follows')).toBe(true);
    const none = await answer('orderLock', { source, span, speeds: [] });
    expect(none).toMatchObject({
      used: null,
      tones: [],
      sentence: expect.stringMatching(/^Cannot say: .*no speed/),
    });
    const parked = await answer('orderLock', { source, span, speeds: [told('wheel', () => 0)] });
    expect(parked.sentence).toMatch(/stood still/);
    const short = { fromMs: ms(5), toMs: ms(12) };
    expect((await answer('orderLock', { source, span: short, speeds: [engine] })).sentence).toMatch(
      /no 10 s on end/,
    );
    // Speeds are known where nothing was recorded.
    const later = told('engine', engineHz, { atMs: engine.atMs.map((at) => at + 3_600_000) });
    const beyond = { fromMs: ms(3600), toMs: ms(3660) };
    expect((await answer('orderLock', { source, span: beyond, speeds: [later] })).sentence).toMatch(
      /no 10 s of samples/,
    );
  });

  it('leaves out what stood still, and says so', async () => {
    const found = await answer('orderLock', { source, span, speeds: [engine, told('wheel', () => 0)] });
    expect(found.notes).toEqual(['wheel stood still, so no tone follows it.']);
    expect(found.tones.find(({ verdict }) => verdict === 'follows')!.speeds[0]!.name).toBe('engine');
  });

  it('tells a road speed without a tyre by the metre', async () => {
    const road = told('road speed', (t) => 2 * wheelTurnsPerS(t), { per: 'metre' });
    const found = await answer('orderLock', { source, span, speeds: [engine, road] });
    expect(found.tones[0]!.sentence).toMatch(/follows road speed \(3\.90 times per metre\)/);
  });
});
