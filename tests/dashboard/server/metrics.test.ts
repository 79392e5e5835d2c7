import { describe, expect, it } from 'vitest';
import { HEALTHY, testApp } from './support.ts';

const TOKEN = 'a-token-for-the-collector-of-metrics';

/** Samples by name and labels, read as the text format of Prometheus (version 0.0.4) says. */
function samples(text: string): Map<string, number> {
  const found = new Map<string, number>();
  for (const line of text.split('\n')) {
    if (line === '' || line.startsWith('#')) continue;
    const [, name, value] = /^([a-zA-Z_:][\w:]*(?:\{(?:\w+="[^"]*",?)+\})?) (\S+)$/.exec(line) ?? [];
    expect(name, line).toBeDefined();
    found.set(name!, Number(value));
  }
  return found;
}

const counters = {
  messages: 12,
  refusedBadChecksum: 2,
  connectionsOpen: 3,
  journalRecords: 10,
  journalWaiting: 0,
};

describe('metrics', () => {
  it('give out every count of health, by part', async () => {
    const { call } = await testApp({ deps: { health: () => ({ ...HEALTHY, counters }) } });
    const answer = await call('GET', '/metrics');
    expect(answer.status).toBe(200);
    expect(answer.headers['content-type']).toMatch(/^text\/plain; version=0\.0\.4/);
    const found = samples(answer.text);
    const event = (part: string, name: string) =>
      found.get(`clampline_events_total{part="${part}",event="${name}"}`);
    expect(event('broker', 'messages')).toBe(12);
    expect(event('broker', 'refusedBadChecksum')).toBe(2);
    expect(event('journal', 'records')).toBe(10);
    expect(event('dashboard', 'waveformsDropped')).toBe(0);
    expect(found.get('clampline_mqtt_connections')).toBe(3);
    expect(found.get('clampline_journal_bytes')).toBe(HEALTHY.journal.bytes);
    expect(found.get('clampline_alerts_open')).toBe(0);
    expect(found.get('clampline_alert_messages_waiting')).toBe(0);
    expect(found.get('clampline_ok')).toBe(0);
    expect(found.get('process_cpu_seconds_total')).toBeGreaterThan(0);
    // Not known here, so not said.
    expect(found.has('clampline_collector_lag_seconds')).toBe(false);
    expect(found.has('clampline_bridge_connected')).toBe(false);
    expect(answer.text).not.toContain('journalWaiting');
  });

  it('count requests by route, and the same events only once', async () => {
    const { call } = await testApp({ deps: { health: () => ({ ...HEALTHY, counters }) } });
    await call('GET', '/api/session');
    await call('GET', '/api/session');
    await call('GET', '/api/assets');
    await call('GET', '/metrics');
    const found = samples((await call('GET', '/metrics')).text);
    const requests = (route: string, status: number) =>
      found.get(`clampline_http_requests_total{method="GET",route="${route}",status="${status}"}`);
    expect(requests('/api/session', 200)).toBe(2);
    expect(requests('/api/assets', 401)).toBe(1);
    expect(found.get('clampline_events_total{part="broker",event="messages"}')).toBe(12);
  });

  it('are for this machine only, and not for what a proxy passes on', async () => {
    const { app, call } = await testApp();
    const from = async (remoteAddress: string) =>
      (await app.inject({ method: 'GET', url: '/metrics', remoteAddress })).statusCode;
    expect(await from('127.0.0.1')).toBe(200);
    expect(await from('::1')).toBe(200);
    expect(await from('::ffff:127.0.0.1')).toBe(200);
    expect(await from('192.0.2.7')).toBe(401);
    expect(await from('2001:db8::7')).toBe(401);
    for (const headers of [{ 'x-forwarded-for': '127.0.0.1' }, { forwarded: 'for=192.0.2.7' }]) {
      expect((await call('GET', '/metrics', { headers })).json.code).toBe('METRICS_REFUSED');
    }
  });

  it('want the token from everybody once there is one', async () => {
    const { app, call } = await testApp({ metricsToken: TOKEN });
    const withToken = (authorization: string) => call('GET', '/metrics', { headers: { authorization } });
    expect((await call('GET', '/metrics')).status).toBe(401);
    expect((await withToken(`Bearer ${TOKEN}x`)).status).toBe(401);
    expect((await withToken(TOKEN)).status).toBe(401);
    expect((await withToken(`Bearer ${TOKEN}`)).status).toBe(200);
    const headers = { authorization: `bearer ${TOKEN}`, 'x-forwarded-for': '192.0.2.1' };
    const remote = await app.inject({ method: 'GET', url: '/metrics', remoteAddress: '192.0.2.7', headers });
    expect(remote.statusCode).toBe(200);
  });
});
