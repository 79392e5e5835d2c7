import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { Health } from '../../../dashboard/contract/http.ts';
import { HEALTHY, testApp } from './support.ts';
import { tempDir } from './temp-dir.ts';

describe('health', () => {
  it('tells strangers only whether all is well, and people everything', async () => {
    const { call, as } = await testApp();
    // Not well: nothing is connected to a broker here.
    expect((await call('GET', '/api/health')).json).toEqual({ ok: false });
    const full = (await call('GET', '/api/health', await as('technician'))).json;
    expect(full).toMatchObject({ ok: false, journal: HEALTHY.journal });
    expect(full.collector).toEqual({ lagMs: null, lastReadingMs: null });
    expect(full.mqtt).toEqual({ connected: false, lastMessageMs: null });
    expect(full.counters).toMatchObject({
      accepted: 4,
      'dashboard.browsers': 0,
      'dashboard.waveformsDropped': 0,
    });
    expect(Value.Check(Health, full)).toBe(true);
  });
});

describe('the demo', () => {
  it('starts once, on an empty station', async () => {
    let starts = 0;
    const startDemo = async () => void starts++;
    const { call, as, store } = await testApp({ deps: { startDemo, demoRunning: () => starts > 0 } });
    const shop = await as('shop');
    expect((await call('GET', '/api/session')).json.demo).toBe(false);
    expect((await call('POST', '/api/demo', shop)).json).toEqual({ done: true });
    expect((await call('GET', '/api/session')).json.demo).toBe(true);
    store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    expect((await call('POST', '/api/demo', shop)).json.code).toBe('STATION_NOT_EMPTY');
    expect(starts).toBe(1);
  });

  it('is not offered where it cannot run', async () => {
    const { call, as } = await testApp();
    expect((await call('POST', '/api/demo', await as('shop'))).json.code).toBe('DEMO_NOT_AVAILABLE');
  });
});

describe('the page', () => {
  async function withPage() {
    const webRoot = join(tempDir(), 'web');
    mkdirSync(join(webRoot, 'assets'), { recursive: true });
    writeFileSync(join(webRoot, 'index.html'), '<!doctype html><title>Station</title>');
    writeFileSync(join(webRoot, 'assets', 'main-abc123.js'), 'export {};');
    writeFileSync(join(webRoot, 'icon.svg'), '<svg xmlns="http://www.w3.org/2000/svg"/>');
    writeFileSync(join(webRoot, '.hidden'), 'secret');
    writeFileSync(join(webRoot, '..', 'outside-of-the-page.txt'), 'secret');
    return testApp({ webRoot });
  }

  it('is open, never stale, and brings its parts once', async () => {
    const { call } = await withPage();
    const page = await call('GET', '/');
    expect(page.status).toBe(200);
    expect(page.text).toContain('<title>Station</title>');
    expect(page.headers['cache-control']).toBe('no-cache');
    expect((await call('GET', '/icon.svg')).headers['cache-control']).toBe('no-cache');
    const script = await call('GET', '/assets/main-abc123.js');
    expect(script.headers['cache-control']).toBe('public, max-age=31536000, immutable');
    expect(script.headers['content-type']).toMatch(/javascript/);
  });

  it('answers every address of a view, and no address of a missing file or route', async () => {
    const { call } = await withPage();
    for (const view of ['/setup', '/assets/3', '/locations/7?span=day']) {
      const page = await call('GET', view);
      expect([view, page.status, page.headers['cache-control']]).toEqual([view, 200, 'no-cache']);
      expect(page.text).toContain('<title>Station</title>');
    }
    const missing = ['/api', '/api/nothing', '/assets/old-1.js', '/.hidden', '/../outside-of-the-page.txt'];
    for (const address of [...missing, '/%2e%2e/outside-of-the-page.txt', '/assets/..%2f.hidden']) {
      const refused = await call('GET', address);
      expect(refused.status, address).toBeGreaterThanOrEqual(400);
      expect(refused.text).not.toContain('secret');
      expect(refused.json, address).toHaveProperty('code');
    }
    expect((await call('POST', '/')).json.code).toBe('ROUTE_NOT_FOUND');
  });

  it('says how to build it when it has not been built', async () => {
    const { call } = await testApp();
    const page = await call('GET', '/');
    expect(page.status).toBe(503);
    expect(page.text).toContain('npm run build');
  });
});

describe('headers', () => {
  it('let the page load only what comes from the station, and nothing inline', async () => {
    const { call } = await testApp();
    for (const address of ['/', '/api/session', '/api/assets']) {
      const { headers } = await call('GET', address);
      const policy = String(headers['content-security-policy']);
      expect(policy).toContain("default-src 'none'");
      expect(policy).toContain("script-src 'self';");
      expect(policy).toContain("frame-ancestors 'none'");
      expect(policy).not.toMatch(/unsafe|\*|https:/);
      expect(headers['x-content-type-options']).toBe('nosniff');
      expect(headers['strict-transport-security']).toBeUndefined();
    }
    expect((await call('GET', '/api/session')).headers['cache-control']).toBe('no-store');
  });
});
