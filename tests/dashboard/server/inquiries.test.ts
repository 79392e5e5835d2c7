import { Value } from 'typebox/value';
import { describe, expect, it, onTestFinished } from 'vitest';
import { CompareResult, Spectrogram, TapResult } from '../../../dashboard/contract/inquiries.ts';
import { journalOf } from '../../collector/capture/journal-of.ts';
import { AXLE_BOARD, GEARBOX_BOARD, noisyRun } from '../../support/noisy-run.ts';
import { NOON_MS, testApp } from './support.ts';

/** A run of a minute on a bus with three places, its raw samples in a real journal; the noise is made at the pinion. */
async function recordedRun() {
  const journal = await journalOf(noisyRun(NOON_MS / 1000));
  onTestFinished(journal.remove);
  const test = await testApp({ journalDir: journal.dir });
  const { cookie } = await test.as('shop');
  const { store, time } = test;
  const bus = store.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
  const place = (name: string, component: string) => store.assets.addLocation(bus.id, { name, component }).id;
  const [pinion, wheel, output] = [
    place('Pinion bearing', 'Rear axle'),
    place('Wheel bearing', 'Rear axle'),
    place('Output bearing', 'Gearbox'),
  ];
  store.nodes.add(AXLE_BOARD, 'axle');
  store.nodes.add(GEARBOX_BOARD, 'gearbox');
  store.mounts.put(pinion, { nodeId: AXLE_BOARD, sensor: 0 });
  store.mounts.put(wheel, { nodeId: AXLE_BOARD, sensor: 1 });
  store.mounts.put(output, { nodeId: GEARBOX_BOARD, sensor: 0 });
  const run = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
  const mark = {
    atMs: NOON_MS + 21_000,
    endMs: NOON_MS + 34_000,
    source: 'button' as const,
    note: '',
    by: 'Kim',
  };
  store.runEvents.addMark(run.id, mark);
  time.advance(60_000);
  store.runs.end(run.id);
  const send = (method: Parameters<typeof test.call>[0], url: string, body?: unknown) =>
    test.call(method, url, { cookie, body });
  return { ...test, send, run, bus, pinion, wheel, output, cookie };
}

describe('questions about a recorded run', () => {
  it('which location makes the noise, kept with the run', async () => {
    const { send, run, pinion } = await recordedRun();
    const url = `/api/runs/${run.id}/compare`;
    expect((await send('GET', url)).json).toBeNull();
    const { status, json } = await send('POST', url, {});
    expect(status).toBe(200);
    expect(Value.Check(CompareResult, json)).toBe(true);
    const result = json as CompareResult;
    expect(result.comparison.verdict).toMatchObject({ kind: 'leads', locationId: String(pinion) });
    expect(result.comparison.verdict.sentence).toMatch(/^Pinion bearing of the rear axle leads at/);
    expect(result.marks!.sentence).toMatch(/^With the noise the pinion bearing of the rear axle rises most/);
    // What is not named in the contract is passed on as well.
    expect(json.comparison.level.pairs.length).toBe(2);
    expect((await send('GET', url)).json).toEqual(json);
    const narrow = await send('POST', url, { bandHz: [400, 900], ignoreMarks: true });
    expect((narrow.json as CompareResult).comparison.bands.every(({ nominalHz }) => nominalHz >= 400)).toBe(
      true,
    );
  });

  it('of some locations only', async () => {
    const { send, run, pinion, wheel } = await recordedRun();
    const asked = { locationIds: [wheel, pinion] };
    const { comparison, locations } = (await send('POST', `/api/runs/${run.id}/compare`, asked))
      .json as CompareResult;
    expect(locations.map(({ locationId }) => locationId).sort()).toEqual([pinion, wheel].sort());
    expect(comparison.verdict).toMatchObject({ kind: 'leads', locationId: String(pinion) });
  });

  it('of a run that is deleted meanwhile is no fault of the station', async () => {
    const { send, run, store } = await recordedRun();
    const asked = send('POST', `/api/runs/${run.id}/compare`, {});
    // Long enough for the question to be on its way; the answer takes some hundred milliseconds.
    await new Promise((resolve) => setTimeout(resolve, 50));
    store.runs.remove(run.id);
    expect((await asked).json.code).toBe('RUN_NOT_FOUND');
  });

  it('how a location sounds, as WAV in step with the others, and how it looks', async () => {
    const { app, cookie, run, pinion, wheel, send } = await recordedRun();
    const sound = (locationId: number, more = '') =>
      app.inject({
        method: 'GET',
        url: `/api/runs/${run.id}/sound?locationId=${locationId}&fromMs=${NOON_MS + 25_000}&toMs=${NOON_MS + 27_000}${more}`,
        headers: { cookie, host: 'localhost' },
      });
    const [one, other] = [await sound(pinion), await sound(wheel)];
    expect(one.headers['content-type']).toBe('audio/wav');
    // 2 s at 24 kHz, 16 bits, behind a header of 44 bytes.
    for (const answer of [one, other]) expect(answer.rawPayload.length).toBe(44 + 2 * 48_000);
    const rms = (answer: typeof one) => Number(answer.headers['clampline-rms-m-per-s2']);
    // 2 and 0.5 m/s² of noise; a tone of 0.5 m/s² beside the first.
    expect(rms(one)).toBeGreaterThan(1.8);
    expect(rms(one)).toBeLessThan(2.3);
    expect(rms(other)).toBeGreaterThan(0.45);
    expect(rms(other)).toBeLessThan(0.6);
    expect(rms(await sound(pinion, '&lowHz=150&highHz=260'))).toBeLessThan(1);
    const refused = await sound(pinion, '&lowHz=4000&highHz=5000');
    expect([refused.statusCode, refused.json().code]).toEqual([422, 'CANNOT_ANSWER']);

    const picture = (await send('GET', `/api/runs/${run.id}/spectrogram?locationId=${pinion}`))
      .json as Spectrogram;
    expect(Value.Check(Spectrogram, picture)).toBe(true);
    expect(Buffer.from(picture.levels, 'base64')).toHaveLength(picture.columns * picture.rows);
  });

  it('gives the samples out, with what a WAV file cannot say beside it', async () => {
    const { app, cookie, run, output, send } = await recordedRun();
    const query = `locationId=${output}&fromMs=${NOON_MS + 10_000}&toMs=${NOON_MS + 20_000}`;
    const wav = await app.inject({
      method: 'GET',
      url: `/api/runs/${run.id}/recording.wav?${query}`,
      headers: { cookie, host: 'localhost' },
    });
    expect(wav.headers['content-disposition']).toMatch(/run-1-location-3\.wav/);
    expect(wav.rawPayload.length).toBeCloseTo(44 + 2 * 32_000, -2);
    expect((await send('GET', `/api/runs/${run.id}/recording.json?${query}`)).json).toMatchObject({
      format: 'clampline-recording',
      fullScale: 40,
      channels: [{ name: 'output bearing of the gearbox', axis: 'x', board: GEARBOX_BOARD }],
      gaps: [],
    });
  });

  it('says that two peers are needed, and compares with them when they are there', async () => {
    const { send, run, pinion, store, time } = await recordedRun();
    const alone = await send('POST', `/api/runs/${run.id}/peers`, { locationId: pinion });
    expect([alone.status, alone.json.code]).toEqual([422, 'CANNOT_ANSWER']);
    expect(alone.json.message).toMatch(/^0 other assets were measured here/);
    // Two sister buses whose pinions carried the other two sensors of the same minute.
    const stay = { atMs: NOON_MS + 60_000 };
    time.advance(stay.atMs - time.now());
    const peers = [
      { nodeId: AXLE_BOARD, sensor: 1 },
      { nodeId: GEARBOX_BOARD, sensor: 0 },
    ].map((sensor, i) => {
      const bus = store.assets.add({ name: `Bus ${3 + i}`, kind: 'vehicle', machineClass: 'II' });
      const place = store.assets.addLocation(bus.id, { name: 'pinion bearing', component: 'Rear Axle' });
      return { bus, place, sensor };
    });
    expect(peers).toHaveLength(2);
    // Their sensors were elsewhere during that minute, so their runs hold nothing: said, not made up.
    for (const { bus } of peers) {
      const other = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
      time.advance(30_000);
      store.runs.end(other.id);
    }
    expect((await send('POST', `/api/runs/${run.id}/peers`, { locationId: pinion })).status).toBe(422);
  });

  it('tells that nothing was rapped', async () => {
    const { send, wheel } = await recordedRun();
    const answer = await send('POST', '/api/taps', {
      locationId: wheel,
      fromMs: NOON_MS + 40_000,
      toMs: NOON_MS + 45_000,
    });
    expect(Value.Check(TapResult, answer.json)).toBe(true);
    expect(answer.json).toMatchObject({ raps: 0, problem: expect.stringContaining('no rap') });
    const long = { locationId: wheel, fromMs: NOON_MS, toMs: NOON_MS + 90_000 };
    expect((await send('POST', '/api/taps', long)).json.code).toBe('SPAN_TOO_LONG');
  });
});
