import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { gaussian } from '../../../../dashboard/virtual/synth/random.ts';
import { encodeSamples, wavBytes } from '../../../support/wav-bytes.ts';
import { reading } from '../stored-readings.ts';
import { NODE_A, testApp } from '../support.ts';
import { tempDir } from '../temp-dir.ts';

describe('the report of a run on the bench', () => {
  it('gives each level its ± and its zone letter, which a road run does not get', async () => {
    const test = await testApp();
    const { cookie } = await test.as('technician');
    const { store, time } = test;
    const bus = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const place = store.assets.addLocation(bus.id, { name: 'Output bearing', component: 'Gearbox' });
    store.nodes.add(NODE_A, 'a');
    store.mounts.put(place.id, { nodeId: NODE_A, sensor: 0 });
    time.advance(1_000);
    const pages: Record<string, string> = {};
    for (const kind of ['bench', 'road'] as const) {
      const run = store.runs.start({ assetId: bus.id, kind }, 'Kim');
      const seconds = Array.from({ length: 20 }, (_, k) => reading(NODE_A, 0, run.startMs + 1000 * k, 3.4));
      await test.readings.add(...seconds);
      time.advance(30_000);
      store.runs.end(run.id);
      pages[kind] = (await test.call('GET', `/api/runs/${run.id}/report`, { cookie })).text;
    }
    // Class II: C from 2.8 to 7.1 mm/s (ISO 10816-1, secondary texts).
    expect(pages['bench']).toMatch(/3\.40[^<]*mm\/s<\/td>\s*<td>C<\/td>/);
    expect(pages['bench']).toContain('Zones after ISO 10816-1 for class II (superseded by ISO 20816');
    expect(pages['road']).toMatch(/3\.40[^<]*mm\/s<\/td>/);
    expect(pages['road']).toContain('No zone letters: they are not made for road runs.');
    expect(pages['road']).not.toMatch(/<td>[A-D]<\/td>/);
  });
});

describe('the report of a recording made elsewhere', () => {
  it('is compared, heard and proved like any other', async () => {
    const recordingsDir = join(tempDir(), 'recordings');
    mkdirSync(recordingsDir);
    const test = await testApp({ recordingsDir });
    const { cookie } = await test.as('shop');
    const { store } = test;
    const bus = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const places = ['Pinion bearing', 'Case'].map(
      (name) => store.assets.addLocation(bus.id, { name, component: 'Rear axle' }).id,
    );
    const source = gaussian(3);
    const own = gaussian(4);
    const frames = new Float64Array(2 * 3200 * 40);
    for (let k = 0; k < 3200 * 40; k++) {
      const noise = k >= 3200 * 15 && k < 3200 * 30 ? source() : 0;
      frames[2 * k] = (2 * noise + 0.1 * own()) / 40;
      frames[2 * k + 1] = (0.5 * noise + 0.1 * own()) / 40;
    }
    const wav = wavBytes(encodeSamples(frames, 16), { sampleRateHz: 3200, channelCount: 2 });
    const headers = { 'content-type': 'audio/wav' };
    const { recordingId } = (await test.call('POST', '/api/recordings', { cookie, body: wav, headers })).json;
    const body = {
      recordingId,
      assetId: bus.id,
      kind: 'road',
      fullScale: 40,
      unit: 'm/s2',
      channels: places.map((locationId, channel) => ({ channel, locationId, axis: 'x' })),
      marks: [{ fromS: 16, toS: 29 }],
    };
    const run = (await test.call('POST', '/api/runs/import', { cookie, body })).json;
    const { status, text } = await test.call('GET', `/api/runs/${run.id}/report`, { cookie });
    expect(status).toBe(200);
    expect(text).toContain('<h1>The noise most likely comes from the pinion bearing of the rear axle');
    expect(text).toContain('a recording made elsewhere');
    expect(text.match(/<audio /g)).toHaveLength(3);
    expect(text.match(/class="hash">[0-9a-f]{64}</g)).toHaveLength(2);
    expect(text).toContain('data:image/svg+xml;base64,');
  });
});
