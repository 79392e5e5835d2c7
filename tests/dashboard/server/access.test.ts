import { describe, expect, it } from 'vitest';
import { NODE_A, testApp } from './support.ts';

type Method = 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE';

/** Every route of the interface, and who may use it. */
const ROUTES: [Method, string, 'open' | 'person' | 'shop'][] = [
  ['GET', '/metrics', 'open'],
  ['GET', '/api/openapi.json', 'person'],
  ['GET', '/api/session', 'open'],
  ['POST', '/api/setup', 'open'],
  ['POST', '/api/login', 'open'],
  ['POST', '/api/logout', 'open'],
  ['GET', '/api/people', 'shop'],
  ['POST', '/api/people', 'shop'],
  ['PATCH', '/api/people/:id', 'shop'],
  ['DELETE', '/api/people/:id', 'shop'],
  ['POST', '/api/password', 'person'],
  ['GET', '/api/health', 'open'],
  ['POST', '/api/demo', 'shop'],
  ['GET', '/api/assets', 'person'],
  ['POST', '/api/assets', 'person'],
  ['PATCH', '/api/assets/:id', 'person'],
  ['DELETE', '/api/assets/:id', 'shop'],
  ['POST', '/api/assets/:id/locations', 'person'],
  ['GET', '/api/locations/:id', 'person'],
  ['PATCH', '/api/locations/:id', 'person'],
  ['DELETE', '/api/locations/:id', 'shop'],
  ['PUT', '/api/locations/:id/mount', 'person'],
  ['GET', '/api/locations/:id/readings', 'person'],
  ['GET', '/api/locations/:id/trend', 'person'],
  ['GET', '/api/locations/:id/spectrum', 'person'],
  ['GET', '/api/nodes', 'person'],
  ['POST', '/api/nodes', 'shop'],
  ['DELETE', '/api/nodes/:nodeId', 'shop'],
  ['GET', '/api/nodes/refused', 'person'],
  ['GET', '/api/station', 'person'],
  ['GET', '/api/sites', 'person'],
  ['GET', '/api/felt-taps', 'person'],
  ['GET', '/api/sensors', 'person'],
  ['PUT', '/api/nodes/:nodeId/sensors/:sensor', 'person'],
  ['POST', '/api/nodes/:nodeId/sensors/:sensor/gravity-check', 'person'],
  ['GET', '/api/nodes/:nodeId/sensors/:sensor/gravity-check', 'person'],
  ['DELETE', '/api/nodes/:nodeId/sensors/:sensor/gravity-check', 'person'],
  ['POST', '/api/nodes/:nodeId/sensors/:sensor/gravity-check/save', 'person'],
  ['POST', '/api/nodes/:nodeId/sensors/:sensor/shaker-check', 'person'],
  ['POST', '/api/locations/:id/mount/confirm', 'person'],
  ['GET', '/api/settings', 'person'],
  ['PUT', '/api/settings', 'shop'],
  ['GET', '/api/live', 'person'],
  ['GET', '/api/bearings', 'person'],
  ['GET', '/api/assets/:id/drive-train', 'person'],
  ['PUT', '/api/assets/:id/drive-train', 'person'],
  ['GET', '/api/locations/:id/findings', 'person'],
  ['POST', '/api/locations/:id/findings', 'person'],
  ['GET', '/api/findings/:id/picture', 'person'],
  ['GET', '/api/manoeuvres', 'person'],
  ['GET', '/api/runs', 'person'],
  ['POST', '/api/runs', 'person'],
  ['GET', '/api/runs/:id', 'person'],
  ['PATCH', '/api/runs/:id', 'person'],
  ['DELETE', '/api/runs/:id', 'shop'],
  ['POST', '/api/runs/:id/end', 'person'],
  ['POST', '/api/runs/:id/marks', 'person'],
  ['PATCH', '/api/runs/:id/marks/:part', 'person'],
  ['DELETE', '/api/runs/:id/marks/:part', 'person'],
  ['POST', '/api/runs/:id/manoeuvres', 'person'],
  ['PATCH', '/api/runs/:id/manoeuvres/:part', 'person'],
  ['GET', '/api/runs/:id/suspects', 'person'],
  ['GET', '/api/runs/:id/vehicle', 'person'],
  ['POST', '/api/runs/:id/vehicle', 'person'],
  ['POST', '/api/runs/:id/vehicle-file', 'person'],
  ['POST', '/api/assets/:id/vehicle', 'person'],
  ['GET', '/api/vehicle-account', 'shop'],
  ['POST', '/api/runs/:id/compare', 'person'],
  ['GET', '/api/runs/:id/compare', 'person'],
  ['POST', '/api/runs/:id/peers', 'person'],
  ['POST', '/api/runs/:id/follow', 'person'],
  ['POST', '/api/runs/:id/slip', 'person'],
  ['GET', '/api/runs/:id/sound', 'person'],
  ['GET', '/api/locations/:id/sound', 'person'],
  ['GET', '/api/runs/:id/spectrogram', 'person'],
  ['GET', '/api/runs/:id/recording.wav', 'person'],
  ['GET', '/api/runs/:id/recording.json', 'person'],
  ['POST', '/api/recordings', 'person'],
  ['GET', '/owner', 'open'],
  ['GET', '/owner/view', 'open'],
  ['GET', '/api/assets/:id/owner-links', 'shop'],
  ['POST', '/api/assets/:id/owner-links', 'shop'],
  ['DELETE', '/api/assets/:id/owner-links/:part', 'shop'],
  ['GET', '/api/runs/:id/report', 'person'],
  ['GET', '/api/assets/:id/report', 'person'],
  ['GET', '/api/runs/:id/report.pdf', 'person'],
  ['GET', '/api/assets/:id/report.pdf', 'person'],
  ['POST', '/api/runs/import', 'person'],
  ['GET', '/api/trends', 'person'],
  ['GET', '/api/assets/:id/events', 'person'],
  ['POST', '/api/assets/:id/events', 'person'],
  ['DELETE', '/api/assets/:id/events/:part', 'person'],
  ['PUT', '/api/runs/:id/trend', 'person'],
  ['GET', '/api/alerts', 'person'],
  ['POST', '/api/alerts/:id/acknowledge', 'person'],
  ['GET', '/api/alert-settings', 'person'],
  ['PUT', '/api/alert-settings', 'shop'],
  ['GET', '/api/alert-recipients', 'shop'],
  ['POST', '/api/alert-recipients', 'shop'],
  ['DELETE', '/api/alert-recipients/:id', 'shop'],
  ['POST', '/api/alert-recipients/:id/test', 'shop'],
  ['GET', '/api/alert-account', 'shop'],
  ['GET', '/api/watch-plans', 'person'],
  ['GET', '/api/assets/:id/watch-plans', 'person'],
  ['POST', '/api/assets/:id/watch-plans', 'person'],
  ['POST', '/api/watch-plans/:id/end', 'person'],
  ['GET', '/api/assets/:id/watch-suggestion', 'person'],
  ['GET', '/api/locations/:id/decision-support', 'person'],
  ['POST', '/api/assets/:id/decision-costs', 'person'],
  ['GET', '/api/assets/:id/decisions', 'person'],
  ['POST', '/api/assets/:id/decisions', 'person'],
  ['GET', '/api/assets/:id/repair-checks', 'person'],
  ['POST', '/api/assets/:id/repair-checks', 'person'],
  ['POST', '/api/repair-checks/:id/repair', 'person'],
  ['PUT', '/api/repair-checks/:id/runs', 'person'],
  ['POST', '/api/repair-checks/:id/conclude', 'person'],
  ['GET', '/api/strip-downs', 'person'],
  ['POST', '/api/assets/:id/strip-downs', 'person'],
  ['DELETE', '/api/strip-downs/:id', 'shop'],
  ['POST', '/api/taps', 'person'],
  ['POST', '/api/taps/sides', 'person'],
];

const address = (route: string) =>
  route.replace(':id', '1').replace(':part', '1').replace(':nodeId', NODE_A).replace(':sensor', '0');

describe('who may do what', () => {
  it('is said here for every route there is', async () => {
    const { app } = await testApp();
    for (const [method, url] of ROUTES) expect(app.hasRoute({ method, url }), `${method} ${url}`).toBe(true);
    // The tree prints one line a method and address part; counting methods catches a route missing above.
    const api = app
      .printRoutes({ commonPrefix: false })
      .split('\n')
      .filter((line) => !line.includes('*'));
    const methods = api.flatMap((line) => line.match(/\b(GET|POST|PUT|PATCH|DELETE)\b/g) ?? []);
    expect(methods).toHaveLength(ROUTES.length);
  });

  it.each(ROUTES.filter(([, , who]) => who !== 'open'))('%s %s needs a login', async (method, route) => {
    const { call, store } = await testApp();
    const refused = await call(method, address(route));
    expect(refused.status).toBe(401);
    expect(refused.json.code).toBe('LOGIN_NEEDED');
    const invented = { cookie: `clampline-session=${'0'.repeat(64)}` };
    expect((await call(method, address(route), invented)).status).toBe(401);
    // A link for an owner opens the owner's page only.
    const { id } = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const { token } = store.ownerLinks.make(id, 1, 'Kim');
    const asOwner = { cookie: `clampline-session=${token}`, headers: { authorization: `Bearer ${token}` } };
    expect((await call(method, address(route), asOwner)).status).toBe(401);
  });

  it.each(ROUTES.filter(([, , who]) => who === 'shop'))(
    '%s %s needs the role shop',
    async (method, route) => {
      const { call, as } = await testApp();
      const refused = await call(method, address(route), await as('technician'));
      expect(refused.status).toBe(403);
      expect(refused.json.code).toBe('ROLE_NEEDED');
      expect((await call(method, address(route), await as('shop'))).json.code).not.toBe('ROLE_NEEDED');
    },
  );

  it.each(ROUTES.filter(([method]) => method !== 'GET'))(
    '%s %s is refused from the page of another site',
    async (method, route) => {
      const { call, as } = await testApp();
      const { cookie } = await as('shop');
      const origins = [
        'http://elsewhere.example',
        'http://localhost:81',
        'https://localhost',
        'http://localhost.elsewhere.example',
        'null',
        '',
      ];
      for (const origin of origins) {
        const refused = await call(method, address(route), { cookie, headers: { origin } });
        expect(refused.json.code, `origin '${origin}'`).toBe('ORIGIN_REFUSED');
        expect(refused.status).toBe(403);
      }
    },
  );

  it('takes a request without an origin only when it changes nothing', async () => {
    const { app, as } = await testApp();
    const { cookie } = await as('shop');
    const headers = { host: 'localhost', cookie };
    expect((await app.inject({ method: 'GET', url: '/api/assets', headers })).statusCode).toBe(200);
    expect((await app.inject({ method: 'POST', url: '/api/logout', headers })).statusCode).toBe(403);
    expect((await app.inject({ method: 'GET', url: '/api/assets', headers })).statusCode).toBe(200);
  });

  it('limits all requests of one address', async () => {
    const { call } = await testApp({ limits: { requestsPerMinute: 5 } });
    const codes = [];
    for (let i = 0; i < 7; i++) codes.push((await call('GET', '/api/session')).status);
    expect(codes).toEqual([200, 200, 200, 200, 200, 429, 429]);
  });
});
