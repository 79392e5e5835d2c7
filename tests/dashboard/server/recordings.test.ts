import { existsSync, readdirSync, readFileSync, utimesSync } from 'node:fs';
import { join } from 'node:path';
import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import type { CompareResult } from '../../../dashboard/contract/inquiries.ts';
import { type RecordingTaken, Run } from '../../../dashboard/contract/runs.ts';
import { cleanRecordings } from '../../../dashboard/server/runs/recording-files.ts';
import { gaussian } from '../../../dashboard/virtual/synth/random.ts';
import { SKIPPED, sharedPath } from '../../support/shared-data.ts';
import { encodeSamples, wavBytes } from '../../support/wav-bytes.ts';
import { NOON_MS, testApp } from './support.ts';
import { tempDir } from './temp-dir.ts';

async function shop() {
  const recordingsDir = join(tempDir(), 'recordings');
  const test = await testApp({ recordingsDir });
  const { cookie } = await test.as('technician');
  const fan = test.store.assets.add({ name: 'Fan', kind: 'machine', machineClass: 'I' });
  const place = (name: string) => test.store.assets.addLocation(fan.id, { name, component: name }).id;
  const send = (method: Parameters<typeof test.call>[0], url: string, body?: unknown) =>
    test.call(method, url, { cookie, body });
  const upload = (body: Buffer | string, type = 'audio/wav') =>
    test.call('POST', '/api/recordings', { cookie, body, headers: { 'content-type': type } });
  return { ...test, recordingsDir, send, upload, fan, place };
}

/** Three channels of 30 s: the noise is made at the first and reaches the others 10 and 14 dB weaker. */
function threeChannels(): Buffer {
  const rate = 3200;
  const [noise, own] = [gaussian(1), gaussian(2)];
  const frames = new Float64Array(3 * 30 * rate);
  for (let k = 0; k < 30 * rate; k++) {
    const source = noise();
    [1, 0.316, 0.2].forEach((share, c) => {
      frames[3 * k + c] = (share * source + 0.05 * own()) / 20;
    });
  }
  return wavBytes(encodeSamples(frames, 24), { sampleRateHz: rate, channelCount: 3, bits: 24 });
}

describe('recordings made elsewhere', () => {
  it('a WAV file becomes a run that can be compared and heard', async () => {
    const { upload, send, fan, place } = await shop();
    const taken = (await upload(threeChannels())).json as RecordingTaken;
    expect(taken).toMatchObject({
      channels: ['channel 1', 'channel 2', 'channel 3'],
      sampleRateHz: 3200,
      durationS: 30,
    });
    expect(taken.fullScaleMPerS2).toBeNull();
    const [motor, shaft, foot] = [place('Motor'), place('Shaft'), place('Foot')];
    const channels = [shaft, motor, foot].map((locationId, channel) => ({
      channel,
      locationId,
      axis: 'single',
    }));
    const request = {
      recordingId: taken.recordingId,
      assetId: fan.id,
      kind: 'bench',
      channels,
      startMs: NOON_MS,
    };
    const unscaled = await send('POST', '/api/runs/import', request);
    expect([unscaled.status, unscaled.json.field]).toEqual([400, 'fullScale']);
    const { status, json } = await send('POST', '/api/runs/import', {
      ...request,
      fullScale: 20,
      unit: 'm/s2',
    });
    expect(status).toBe(200);
    expect(Value.Check(Run, json)).toBe(true);
    expect(json).toMatchObject({ source: 'import', startMs: NOON_MS, endMs: NOON_MS + 30_000 });
    expect((json as Run).locations.map(({ name }) => name)).toEqual(['Motor', 'Shaft', 'Foot']);
    const compared = await send('POST', `/api/runs/${json.id}/compare`, {});
    expect((compared.json as CompareResult).comparison.verdict).toMatchObject({
      kind: 'leads',
      locationId: String(shaft),
    });
    const from = `fromMs=${NOON_MS + 2000}&toMs=${NOON_MS + 4000}`;
    const sound = await send('GET', `/api/runs/${json.id}/sound?locationId=${motor}&${from}`);
    expect(Number(sound.headers['clampline-rms-m-per-s2'])).toBeCloseTo(Math.hypot(0.316, 0.05), 1);
    const twice = await send('POST', '/api/runs/import', { ...request, fullScale: 20 });
    expect([twice.status, twice.json.field]).toEqual([400, 'recordingId']);
  });

  it('a table of values becomes one too, with what the vehicle said and the marks given', async () => {
    const { upload, send, fan, place } = await shop();
    const noise = gaussian(4);
    const rows = Array.from({ length: 8000 }, (_, k) => {
      const value = noise();
      return `${(k / 800).toFixed(5)},${value.toFixed(5)},${(0.3 * value).toFixed(5)},${k % 800 === 0 ? 50 + k / 800 : ''}`;
    });
    const text = `time [s],pinion acceleration [g],hub acceleration [m/s2],road speed [km/h]\n${rows.join('\n')}\n`;
    const taken = (await upload(text, 'text/csv')).json as RecordingTaken;
    expect(taken).toMatchObject({
      channels: ['pinion acceleration', 'hub acceleration'],
      fullScaleMPerS2: 1,
    });
    expect(taken.sampleRateHz).toBeCloseTo(800, 3);
    const channels = ['Pinion', 'Hub'].map((name, channel) => ({
      channel,
      locationId: place(name),
      axis: 'single',
    }));
    const request = {
      recordingId: taken.recordingId,
      assetId: fan.id,
      kind: 'road',
      channels,
      startMs: NOON_MS,
    };
    const run = (await send('POST', '/api/runs/import', { ...request, marks: [{ fromS: 2, toS: 5 }] }))
      .json as Run;
    expect(run.marks).toMatchObject([{ atMs: NOON_MS + 2000, endMs: NOON_MS + 5000, source: 'import' }]);
    expect(run.vehicle).toMatchObject([{ quantity: 'roadSpeedKmH', count: 10, newest: 59 }]);
    const url = `/api/runs/${run.id}/sound?locationId=${run.locations[0]!.id}&fromMs=${NOON_MS}&toMs=${NOON_MS + 5000}`;
    // 1 g RMS of white noise, less what lies below 20 Hz of 400.
    expect(Number((await send('GET', url)).headers['clampline-rms-m-per-s2']) / 9.80665).toBeCloseTo(0.97, 1);
  });

  it('refuses what is no recording, naming the place, and leaves nothing behind', async () => {
    const { upload, send, fan, place, recordingsDir, call, as } = await shop();
    const noise = await upload(Buffer.from('not a recording at all, but long enough to be looked at'));
    expect([noise.status, noise.json.code]).toEqual([422, 'CANNOT_ANSWER']);
    expect(noise.json.message).not.toContain(recordingsDir);
    const gap = await upload('time [s],acceleration [g]\n0,1\n0.1,1\n0.5,1\n0.6,1\n', 'text/csv');
    expect(gap.json.message).toMatch(/steady rate/);
    expect((await upload('time [s],speed [km/h]\n0,1\n0.1,1\n', 'text/csv')).json.message).toMatch(
      /No column holds/,
    );
    expect(readdirSync(recordingsDir)).toEqual([]);
    expect((await upload('{}', 'application/json')).json.code).toBe('MEDIA_TYPE_REFUSED');
    const { cookie } = await as('shop');
    expect((await call('POST', '/api/recordings', { cookie })).status).toBe(415);

    const { recordingId } = (await upload(threeChannels())).json as RecordingTaken;
    const channel = (number: number, locationId = place('A')) => ({ channel: number, locationId, axis: 'x' });
    for (const channels of [[channel(3)], [channel(0), channel(0)], [channel(0, 999)]]) {
      const request = { recordingId, assetId: fan.id, kind: 'bench', fullScale: 1, channels };
      expect((await send('POST', '/api/runs/import', request)).json.field).toBe('channels');
    }
  });

  it('removes files that no run rests on after a day, and no others', async () => {
    const { upload, recordingsDir, store, send, fan, place } = await shop();
    const [kept, dropped] = [
      (await upload(threeChannels())).json as RecordingTaken,
      (await upload(threeChannels())).json as RecordingTaken,
    ];
    const channels = [{ channel: 0, locationId: place('A'), axis: 'x' }];
    await send('POST', '/api/runs/import', {
      recordingId: kept.recordingId,
      assetId: fan.id,
      kind: 'bench',
      fullScale: 1,
      channels,
    });
    await cleanRecordings(recordingsDir, store.recordings.inUse());
    expect(readdirSync(recordingsDir)).toHaveLength(4);
    const old = new Date(Date.now() - 2 * 86_400_000);
    for (const name of readdirSync(recordingsDir)) utimesSync(join(recordingsDir, name), old, old);
    await cleanRecordings(recordingsDir, store.recordings.inUse());
    expect(readdirSync(recordingsDir).every((name) => name.startsWith(kept.recordingId))).toBe(true);
    expect(dropped.recordingId).not.toBe(kept.recordingId);
  });
});

/** Fault at the fan end, with the base louder over the whole band than the fan end: see the data set's README. */
const FAN_END = sharedPath('open-data', 'cwru', '278-inner007-fe-0hp.wav');

describe.skipIf(!existsSync(FAN_END))(`an open recording (else ${SKIPPED})`, () => {
  it('names the faulty end by the line of its defect', async () => {
    const { upload, send, fan, place } = await shop();
    const taken = (await upload(readFileSync(FAN_END))).json as RecordingTaken;
    const ids = ['Drive end', 'Fan end', 'Base'].map(place);
    const channels = ids.map((locationId, channel) => ({ channel, locationId, axis: 'single' }));
    const request = {
      recordingId: taken.recordingId,
      assetId: fan.id,
      kind: 'bench',
      channels,
      fullScale: 4,
      unit: 'g',
    };
    const run = (await send('POST', '/api/runs/import', request)).json as Run;
    // Inner race of the fan end's bearing at 1796 rpm: 148.08 Hz (the data set's index).
    const result = (await send('POST', `/api/runs/${run.id}/compare`, { defectHz: 148.08 }))
      .json as CompareResult;
    expect(result.comparison.verdict.kind).toBe('leads');
    expect(result.comparison.verdict.locationId).toBe(String(ids[1]));
    expect(result.comparison.verdict.by).not.toBe('level');
  });
});
