import { describe, expect, it } from 'vitest';
import { PASSWORD, testApp } from './support.ts';

const DAY_MS = 86_400_000;

describe('setting up and logging in', () => {
  it('goes from the setup link to a session, once', async () => {
    const { call, store } = await testApp();
    expect((await call('GET', '/api/session')).json).toMatchObject({
      setupNeeded: true,
      person: null,
      site: 'depot',
    });
    const token = store.setup.issueToken();
    const body = { token, name: ' Kim ', password: PASSWORD };
    const done = await call('POST', '/api/setup', { body });
    expect(done.status).toBe(200);
    expect(done.json).toMatchObject({ setupNeeded: false, person: { name: 'Kim', role: 'shop' } });
    const setCookie = String(done.headers['set-cookie']);
    expect(setCookie).toMatch(/^clampline-session=[0-9a-f]{64}; /);
    for (const part of ['Path=/', 'HttpOnly', 'SameSite=Strict', 'Expires='])
      expect(setCookie).toContain(part);
    expect(setCookie).not.toContain('Secure');
    const cookie = setCookie.split(';')[0]!;
    expect((await call('GET', '/api/session', { cookie })).json.person).toEqual({
      name: 'Kim',
      role: 'shop',
    });
    expect((await call('POST', '/api/setup', { body })).json.code).toBe('SETUP_DONE');
  });

  it('refuses a wrong link, a short password and a blank name, and keeps the link good', async () => {
    const { call, store } = await testApp();
    const token = store.setup.issueToken()!;
    const send = (body: object) => call('POST', '/api/setup', { body });
    expect((await send({ token: 'x', name: 'Kim', password: PASSWORD })).json.code).toBe('SETUP_TOKEN_WRONG');
    expect((await send({ token, name: 'Kim', password: 'short' })).json).toMatchObject({
      code: 'VALIDATION_FAILED',
      field: 'password',
    });
    expect((await send({ token, name: '  ', password: PASSWORD })).json.field).toBe('name');
    expect((await send({ token, name: 'Kim', password: PASSWORD })).status).toBe(200);
  });

  it('gives the same answer for an unknown name and for a wrong password', async () => {
    const { call, store, logged } = await testApp();
    await store.people.create('Kim', PASSWORD, 'technician');
    const wrong = await call('POST', '/api/login', { body: { name: 'Kim', password: 'wrong' } });
    const unknown = await call('POST', '/api/login', { body: { name: 'Nobody', password: 'wrong' } });
    expect(wrong.status).toBe(401);
    expect(unknown.text).toBe(wrong.text);
    expect(logged.filter((line) => line.includes('refused'))).toHaveLength(2);
    expect(logged.join()).not.toMatch(/Nobody|Kim/);
    const right = await call('POST', '/api/login', { body: { name: 'kim', password: PASSWORD } });
    expect(right.json.person).toEqual({ name: 'Kim', role: 'technician' });
  });

  it('takes a fresh session at each login and ends the one before', async () => {
    const { call, store, as } = await testApp();
    const { cookie } = await as('shop');
    const body = { name: 'shop person', password: PASSWORD };
    const again = await call('POST', '/api/login', { body, cookie });
    expect(String(again.headers['set-cookie'])).not.toContain(cookie);
    expect(store.sessions.use(cookie.split('=')[1]!)).toBeNull();
  });

  it('logs out', async () => {
    const { call, as } = await testApp();
    const { cookie } = await as('shop');
    const out = await call('POST', '/api/logout', { cookie });
    expect(out.json.person).toBeNull();
    expect(String(out.headers['set-cookie'])).toMatch(/^clampline-session=;.*Expires=Thu, 01 Jan 1970/);
    expect((await call('GET', '/api/assets', { cookie })).json.code).toBe('LOGIN_NEEDED');
    expect((await call('POST', '/api/logout')).status).toBe(200);
  });

  it('lets the cookie follow a session that is used, and ends an unused one', async () => {
    const { call, as, time } = await testApp();
    const { cookie } = await as('shop');
    expect((await call('GET', '/api/session', { cookie })).headers['set-cookie']).toBeUndefined();
    time.advance(2 * DAY_MS);
    expect(String((await call('GET', '/api/session', { cookie })).headers['set-cookie'])).toContain(cookie);
    time.advance(7 * DAY_MS);
    expect((await call('GET', '/api/session', { cookie })).json.person).toBeNull();
    expect((await call('GET', '/api/assets', { cookie })).status).toBe(401);
  });

  it('limits attempts, not reading', async () => {
    const { call } = await testApp({ limits: { loginsPerMinute: 3 } });
    const attempt = () => call('POST', '/api/login', { body: { name: 'Kim', password: 'guess' } });
    const codes = [];
    for (let i = 0; i < 5; i++) codes.push((await attempt()).status);
    expect(codes).toEqual([401, 401, 401, 429, 429]);
    const refused = await attempt();
    expect(refused.json).toMatchObject({ code: 'TOO_MANY_REQUESTS' });
    expect(Number(refused.headers['retry-after'])).toBeGreaterThan(0);
    expect((await call('POST', '/api/setup', { body: {} })).status).toBe(400);
    expect((await call('GET', '/api/session')).status).toBe(200);
  });
});
