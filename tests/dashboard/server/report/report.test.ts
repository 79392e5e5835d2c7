import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { testApp } from '../support.ts';
import { recordedRun } from './recorded-run.ts';

/** All that is written in a report, in what is embedded as well. */
function everythingIn(page: string): string {
  const embedded = [...page.matchAll(/data:image\/svg\+xml;base64,([A-Za-z0-9+/=]+)/g)];
  return [page, ...embedded.map(([, data]) => Buffer.from(data!, 'base64').toString('utf8'))].join('\n');
}

/** Tags and texts, as a browser sees them; the sounds and pictures left out. */
const withoutData = (page: string) => page.replace(/base64,[A-Za-z0-9+/=]+/g, 'base64,');

const clipsOf = (page: string) =>
  [...page.matchAll(/data:audio\/wav;base64,([A-Za-z0-9+/=]+)/g)].map(([, data]) => {
    const wav = Buffer.from(data!, 'base64');
    let [power, peak] = [0, 0];
    for (let at = 44; at < wav.length; at += 2) {
      const value = wav.readInt16LE(at) / 32768;
      power += value * value;
      peak = Math.max(peak, Math.abs(value));
    }
    const count = (wav.length - 44) / 2;
    return { rms: Math.sqrt(power / count), peak, seconds: count / wav.readUInt32LE(24) };
  });

describe('the report of a run', () => {
  it('says first what was found and what to do, then what it rests on, in one file without a request', async () => {
    const { get, run } = await recordedRun();
    const answer = await get(`/api/runs/${run.id}/report`);
    expect([answer.statusCode, answer.headers['content-type']]).toEqual([200, 'text/html; charset=utf-8']);
    const page = withoutData(answer.payload);
    expect(page).toMatch(
      /<h1>The noise most likely comes from the pinion bearing of the rear axle: it leads at \d+-\d+ Hz by 1[12]\.\d ± \d\.\d dB in \d+ of \d+ windows\.<\/h1>/,
    );
    const order = [
      '<strong>Next:</strong>',
      'Complaint',
      'Conditions',
      'Which location',
      'Hear it',
      'See it',
    ];
    const rest = ['Which part?', 'How strong', 'Sensors', 'How it was measured', 'Cautions', 'Evidence'];
    const places = [...order, ...rest].map((text) => page.indexOf(text));
    expect(places.toSorted((a, b) => a - b)).toEqual(places);
    expect(places[0]).toBeGreaterThan(0);
    for (const text of ['60 to 80 km/h', 'pulling uphill', 'once warm', '72 km/h', 'SHA-256', '± 1.0'])
      expect(page).toContain(text);
    expect(page).not.toMatch(/https?:|<script|<link|@import|url\(/i);
    for (const [, source] of page.matchAll(/(?:src|href)="([^"]*)"/g)) expect(source).toMatch(/^data:/);
    expect(answer.payload.length).toBeLessThan(1.5e6);
    expect(answer.headers['content-security-policy']).toMatch(/^default-src 'none'/);
  });

  it('keeps names, notes, exact times and the site to itself, until somebody asks for them', async () => {
    const { get, run } = await recordedRun();
    const plain = everythingIn((await get(`/api/runs/${run.id}/report`)).payload);
    for (const secret of ['KB-TR', 'Miller', 'Altdorf', 'church', 'Kim', 'depot'])
      expect(plain, secret).not.toContain(secret);
    expect(plain).not.toMatch(/17357\d{8}/);
    expect(plain).not.toMatch(/\b\d\d:\d\d:\d\d\b/);
    const full = (await get(`/api/runs/${run.id}/report?include=names-and-times`)).payload;
    for (const told of ['KB-TR', 'Miller', 'Kim Operator', 'depot', '1 January 2025, '])
      expect(full).toContain(told);
    expect((await get(`/api/runs/${run.id}/report?include=everything`)).statusCode).toBe(400);
  });

  it('lets nothing run that a person typed as a name', async () => {
    const { get, run } = await recordedRun();
    const page = (await get(`/api/runs/${run.id}/report?include=names-and-times`)).payload;
    const all = everythingIn(page);
    expect(all).not.toMatch(/<script|<img src=x|<b>/);
    expect(page).toContain('KB-TR 204 &lt;script&gt;');
  });

  it('plays the same moments equally loud and says how strong they were', async () => {
    const { get, run } = await recordedRun();
    const page = (await get(`/api/runs/${run.id}/report`)).payload;
    const clips = clipsOf(page);
    expect(clips).toHaveLength(4);
    for (const { rms, peak, seconds } of clips) {
      expect(Math.abs(20 * Math.log10(rms / clips[0]!.rms))).toBeLessThan(0.1);
      expect(peak).toBeLessThan(0.9);
      expect(seconds).toBe(5);
    }
    // 2 and 0.5 m/s² of noise beside a tone of 0.5 m/s² at the first: 20 log of the ratio of the sums.
    const wheel = withoutData(page).match(
      /Left wheel bearing[^<]*<\/strong>:[^;]*;[^,]*, (\d+\.\d) dB below/,
    );
    expect(
      Math.abs(Number(wheel![1]) - 20 * Math.log10(Math.hypot(2, 0.5, 0.1) / Math.hypot(0.5, 0.1))),
    ).toBeLessThan(0.6);
  });

  it('proves the raw samples: the digest is that of the recording which the station gives out', async () => {
    const { get, run, pinion } = await recordedRun();
    const page = (await get(`/api/runs/${run.id}/report`)).payload;
    const wav = (await get(`/api/runs/${run.id}/recording.wav?locationId=${pinion}`)).rawPayload;
    expect(page).toContain(createHash('sha256').update(wav).digest('hex'));
  });

  it('changes nothing: a comparison made for it is not kept', async () => {
    const { get, run, store } = await recordedRun();
    await get(`/api/runs/${run.id}/report`);
    expect(store.runResults.text(run.id, 'compare')).toBeNull();
  });

  it('is given as a file on wish, and not while the run lasts', async () => {
    const { get, run, store, bus } = await recordedRun();
    const file = await get(`/api/runs/${run.id}/report?download=true`);
    expect(file.headers['content-disposition']).toBe('attachment; filename="report-run-1.html"');
    const second = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
    const early = await get(`/api/runs/${second.id}/report`);
    expect([early.statusCode, early.json().code]).toEqual([409, 'RUN_UNDER_WAY']);
    expect((await get('/api/runs/99/report')).statusCode).toBe(404);
  });

  it('says that the noise did not come, instead of naming a place', async () => {
    const { get, run, store } = await recordedRun();
    store.runs.change(run.id, { outcome: 'could-not-reproduce' });
    const page = (await get(`/api/runs/${run.id}/report`)).payload;
    expect(page).toContain('<h1>The noise did not come during this run, so its place is not known.</h1>');
  });

  it('does without raw samples: it says what is missing and shows the rest', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const { id } = test.store.assets.add({ name: 'Bus 9', kind: 'vehicle', machineClass: 'II' });
    const run = test.store.runs.start(
      { assetId: id, kind: 'road', complaint: { description: 'Knock' } },
      'Kim',
    );
    test.time.advance(30_000);
    test.store.runs.end(run.id);
    const { status, text } = await test.call('GET', `/api/runs/${run.id}/report`, { cookie });
    expect(status).toBe(200);
    expect(text).toContain('Knock');
    expect(text).toContain('Not compared. No raw samples are there for this.');
  });
});

describe('the report of an asset', () => {
  it('is that of its newest run that said something', async () => {
    const { get, run, store, bus, time } = await recordedRun();
    const broken = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
    time.advance(5_000);
    store.runs.end(broken.id);
    store.runs.change(broken.id, { outcome: 'aborted' });
    const page = (await get(`/api/assets/${bus.id}/report`)).payload;
    expect(page).toContain(`<title>Vibration report, run ${run.id}</title>`);
    expect((await get('/api/assets/99/report')).statusCode).toBe(404);
  });

  it('is of the levels alone where no run was made', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const fan = test.store.assets.add({ name: 'Extraction fan', kind: 'machine', machineClass: 'I' });
    test.store.assets.addLocation(fan.id, { name: 'Drive end', component: 'Motor' });
    const { status, text } = await test.call('GET', `/api/assets/${fan.id}/report`, { cookie });
    expect(status).toBe(200);
    expect(text).toContain(
      'Nothing has changed by more than its own scatter explains at the one location watched.',
    );
    expect(text).not.toContain('Extraction fan');
    expect(text).not.toContain('Hear it');
  });
});
