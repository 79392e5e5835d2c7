import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { type OwnerLink, type OwnerLinkMade, OwnerView } from '../../../../dashboard/contract/owner.ts';
import type { WatchPlanRequest } from '../../../../dashboard/contract/watch-plans.ts';
import type { Cause } from '../../../../dashboard/server/records/alerts.ts';
import { NOON_MS, testApp } from '../support.ts';
import { addPastRuns, busWithSensor, DAY_MS, type PastRun, scatter, workOut } from '../weeks/past-runs.ts';

/** Runs twice a week at one speed over 20 weeks, the level growing from day 60 on by `growth` in all. */
const runs = (growth: number): PastRun[] =>
  Array.from({ length: 40 }, (_, k) => {
    const day = 3.5 * k;
    const wear = day < 60 ? 1 : 1 + (growth * (day - 60)) / 80;
    return { day, velocityRmsMmPerS: 1.6 * wear * scatter(k), speedKmH: 54 };
  });

async function bus(growth: number, options: Parameters<typeof testApp>[0] = {}) {
  const test = await testApp(options);
  const { asset, place } = busWithSensor(test);
  await addPastRuns(test, asset.id, runs(growth));
  await workOut(test);
  const { cookie } = await test.as('shop');
  const links = `/api/assets/${asset.id}/owner-links`;
  const make = async (days = 91) =>
    (await test.call('POST', links, { cookie, body: { days } })).json as OwnerLinkMade;
  const open = (token: string, headers: Record<string, string> = {}) =>
    test.call('GET', '/owner/view', { headers: { authorization: `Bearer ${token}`, ...headers } });
  const view = async (token: string) => {
    const { status, json } = await open(token);
    expect(status).toBe(200);
    expect(Value.Check(OwnerView, json)).toBe(true);
    return json as OwnerView;
  };
  return { ...test, asset, place, cookie, links, make, open, view };
}

const PLAN: WatchPlanRequest = {
  locationId: null,
  everyDays: 7,
  everyReason: 'agreed',
  conditions: { kind: 'road', manoeuvres: [], bins: [], speed: '', load: '', note: '' },
  stopLimits: [],
  stopSigns: [{ text: 'It smells burnt.', source: 'own' }],
  tell: 'Kim by phone',
  agreedBy: 'Mrs Miller and Kim',
};

describe('what an owner is told', () => {
  it('is that it gets worse, by how much with ± and unit, and what to do by when', async () => {
    const { make, view } = await bus(0.8);
    const { token } = await make();
    const told = await view(token);
    expect(told).toMatchObject({ asset: 'Bus 2', answer: 'worse', safety: null, overdue: false });
    expect(told.headline).toBe('Yes, it is getting worse at the output bearing of the gearbox.');
    const [, percent, range] = told.howMuch!.match(/is (\d+) ± (\d+)\u00a0% stronger than normal/)!;
    // The last runs lie on days 129.5 to 136.5: wear of 1 + 0.8 x 73 / 80, read as the middle of three.
    expect(Math.abs(Number(percent) - 73)).toBeLessThanOrEqual(Number(range));
    expect(Number(range)).toBeLessThan(15);
    expect(told.howMuch).toMatch(/At .*: 2\.\d+ ± 0\.\d+\u00a0mm\/s, normally 1\.6\d\u00a0mm\/s\.$/);
    expect(told.next).toMatch(/^Ask the workshop to look at the output bearing of the gearbox/);
    expect(told.byMs).toBeGreaterThan(NOON_MS);
    expect(told.signs.length).toBeGreaterThan(0);
    expect(told.places).toHaveLength(1);
  });

  it('is that nothing gets worse where only chance moves the levels', async () => {
    const { make, view } = await bus(0);
    const told = await view((await make()).token);
    expect(told.answer).toBe('steady');
    expect(told.headline).toBe('No, nothing is getting worse.');
    const [, percent, range] = told.howMuch!.match(/is (\d+) ± (\d+)\u00a0%/)!;
    expect(Number(percent)).toBeLessThanOrEqual(Number(range));
  });

  it('is that it gets worse where another value than the one shown has raised an alert', async () => {
    const { make, view, store, asset, place } = await bus(0);
    const { token } = await make();
    const cause: Cause = {
      key: 'trend/1/change',
      about: 'change',
      assetId: asset.id,
      locationId: place.id,
      nodeId: null,
      quantity: 'accelerationRmsMPerS2',
      detail: '',
      value: 1.61,
      limit: 1.25,
      unit: 'ratio',
      falseAlarmsPerYear: 0.05,
      sinceMs: NOON_MS - 5 * DAY_MS,
      seenMs: NOON_MS - DAY_MS,
    };
    store.alerts.settle('trend/1/', [cause], NOON_MS, 'normal-again');
    const told = await view(token);
    expect(told.headline).toBe('Yes, it is getting worse at the output bearing of the gearbox.');
    expect(told.howMuch).toMatch(/ Acceleration RMS has risen to 1\.61 times its baseline\.$/);
    expect(told.places[0]!.text).toMatch(/normal; acceleration RMS has risen to 1\.61 times its baseline$/);
    store.alerts.settle('trend/1/', [], NOON_MS + 1, 'normal-again');
    expect((await view(token)).answer).toBe('steady');
  });

  it('is that it cannot be said yet where too little was measured', async () => {
    const test = await testApp();
    const { asset } = busWithSensor(test);
    const { token } = test.store.ownerLinks.make(asset.id, 9, 'Kim');
    const headers = { authorization: `Bearer ${token}` };
    const told = (await test.call('GET', '/owner/view', { headers })).json as OwnerView;
    expect(told).toMatchObject({ answer: 'not-known', howMuch: null, byMs: null });
    expect(told.next).toBe('Ask the workshop to measure it.');
  });

  it('is the safety advice first where control of the vehicle hangs on the part', async () => {
    const { make, view, store, place, asset } = await bus(0.8);
    store.assets.changeLocation(place.id, { name: 'Wheel bearing, rear left', component: 'Rear axle' });
    const told = await view((await make()).token);
    expect(told.safety).toMatch(/^Do not put this off\./);
    // Nothing beside it speaks of waiting, not even a plan.
    expect(told).toMatchObject({ byMs: NOON_MS, overdue: false, signs: [] });
    expect(told.next).toMatch(
      /^Do not use it until the wheel bearing, rear left of the rear axle has been inspected/,
    );
    store.watchPlans.begin(asset.id, PLAN, 'Kim');
    expect((await view((await make()).token)).next).toBe(told.next);
  });

  it('is what a watch plan agreed on, its date and its signs; and an end of the waiting at its limit', async () => {
    const { make, view, store, asset, place, time } = await bus(0.8);
    store.watchPlans.begin(asset.id, PLAN, 'Kim');
    const { token } = await make();
    const told = await view(token);
    expect(told).toMatchObject({ byMs: NOON_MS + 7 * DAY_MS, overdue: false, signs: ['It smells burnt.'] });
    expect(told.next).toBe('Have it measured again, as agreed with the workshop.');
    time.advance(8 * DAY_MS);
    expect(await view(token)).toMatchObject({ overdue: true, next: expect.stringMatching(/overdue/) });
    const limit = {
      locationId: place.id,
      value: 'velocityRmsMmPerS',
      basis: 'ratio',
      bin: null,
      limit: 1.5,
    } as const;
    store.watchPlans.begin(asset.id, { ...PLAN, stopLimits: [limit] }, 'Kim');
    expect((await view(token)).next).toMatch(/^A limit that was agreed on has been reached/);
    const text = JSON.stringify(await view(token));
    for (const other of ['Miller', 'Kim', 'phone']) expect(text).not.toContain(other);
  });
});

describe('a link for an owner', () => {
  it('is listed without its token, with who made it and how often it was opened', async () => {
    const { make, view, call, cookie, links, time } = await bus(0);
    const { link, token } = await make(14);
    expect(link).toMatchObject({ madeBy: 'shop person', expiresMs: NOON_MS + 14 * DAY_MS, openedCount: 0 });
    await view(token);
    time.advance(DAY_MS);
    await view(token);
    const listed = await call('GET', links, { cookie });
    expect(listed.json).toEqual([
      { ...link, openedCount: 2, lastOpenedDayMs: Math.floor(NOON_MS / DAY_MS) * DAY_MS + DAY_MS },
    ] satisfies OwnerLink[]);
    expect(listed.text).not.toContain(token.split('.')[1]);
    for (const days of [0, 367, 1.5])
      expect((await call('POST', links, { cookie, body: { days } })).status).toBe(400);
  });

  it('ends when it expires, is revoked, or its asset is deleted: always the same answer', async () => {
    const { make, open, call, cookie, links, time, store, asset } = await bus(0);
    const [short, long, other] = [await make(1), await make(91), await make(91)];
    expect((await call('DELETE', `${links}/${other.link.id}`, { cookie })).json[0].revokedMs).toBe(NOON_MS);
    time.advance(DAY_MS - 1);
    expect((await open(short.token)).status).toBe(200);
    time.advance(1);
    const answers = [await open(short.token), await open(other.token)];
    expect((await open(long.token)).status).toBe(200);
    store.assets.remove(asset.id);
    answers.push(await open(long.token), await open(''), await open('1'), await open(`1.${'A'.repeat(43)}`));
    for (const { status, json } of answers) {
      expect(status).toBe(404);
      expect(json).toEqual(answers[0]!.json);
    }
    expect(answers[0]!.json).toMatchObject({
      code: 'LINK_NOT_VALID',
      remedy: 'Ask the workshop for a new one.',
    });
  });

  it('is refused when anything in it is changed, and a signature does not fit another link', async () => {
    const { make, open } = await bus(0);
    const [one, two] = [(await make()).token, (await make()).token];
    const [id, signature = ''] = one.split('.');
    const changed = [
      `${Number(id) + 1}.${signature}`,
      `${id}.${two.split('.')[1]}`,
      `0${one}`,
      `${one} `,
      `${one}A`,
      one.slice(0, -1),
      `${id}.${signature.toUpperCase()}`,
      ...[0, 10, 21, 42].map((k) => {
        const letter = signature[k] === 'A' ? 'B' : 'A';
        return `${id}.${signature.slice(0, k)}${letter}${signature.slice(k + 1)}`;
      }),
    ];
    for (const token of changed) expect((await open(token)).status, token).toBe(404);
    expect((await open(one)).status).toBe(200);
  });

  it('belongs to its station: with another secret it opens nothing', async () => {
    const { make } = await bus(0);
    const { token } = await make();
    const elsewhere = await bus(0);
    await elsewhere.make();
    expect((await elsewhere.open(token)).status).toBe(404);
  });

  it('opens nothing else: every other address refuses it in each place a token can stand', async () => {
    const { make, app, asset, place } = await bus(0);
    const { token } = await make();
    const reads = [
      '/api/assets',
      `/api/assets/${asset.id}/owner-links`,
      `/api/assets/${asset.id}/report`,
      `/api/assets/${asset.id}/report.pdf`,
      `/api/assets/${asset.id}/watch-plans`,
      `/api/locations/${place.id}`,
      `/api/trends?locationIds=${place.id}`,
      '/api/runs',
      '/api/runs/1',
      '/api/runs/1/report',
      '/api/nodes',
      '/api/openapi.json',
      '/api/settings',
      '/api/watch-plans',
      `/api/assets/${asset.id}/events`,
      '/api/people',
    ];
    for (const url of reads) {
      const also = url.includes('?') ? '&' : '?';
      const tries = [
        { url, headers: { authorization: `Bearer ${token}` } },
        { url, headers: { cookie: `clampline-session=${token}` } },
        { url: `${url}${also}token=${token}`, headers: {} },
      ];
      for (const { url: tried, headers } of tries) {
        const answer = await app.inject({
          method: 'GET',
          url: tried,
          headers: { host: 'localhost', ...headers },
        });
        expect(answer.statusCode, tried).toBe(401);
      }
    }
    const remote = { host: 'localhost', 'x-forwarded-for': '192.0.2.1', authorization: `Bearer ${token}` };
    expect((await app.inject({ method: 'GET', url: '/metrics', headers: remote })).statusCode).toBe(401);
  });

  it('needs no cookie, sets none, and tells browsers to keep it to themselves', async () => {
    const { make, open, cookie } = await bus(0);
    const { token } = await make();
    const { headers } = await open(token, { cookie });
    expect(headers['set-cookie']).toBeUndefined();
    expect(headers).toMatchObject({
      'referrer-policy': 'no-referrer',
      'cache-control': 'no-store',
      'x-robots-tag': 'noindex, nofollow',
    });
    // A session alone opens nothing here.
    expect((await open('', { cookie })).status).toBe(404);
  });

  it('is never written to the log, not even when the station fails on it', async () => {
    const { make, open, logged, store } = await bus(0);
    const { token } = await make();
    await open(token);
    await open(`${token}x`);
    Object.assign(store.assets, {
      asset: () => {
        throw new Error('broken');
      },
    });
    expect((await open(token)).status).toBe(500);
    expect(logged.join('\n')).toMatch(/GET \/owner\/view failed/);
    expect(logged.join('\n')).not.toContain(token.split('.')[1]);
  });

  it('is guarded against guessing; who has a right one is not locked out by it', async () => {
    const { make, open } = await bus(0, { limits: { wrongLinksPerMinute: 5 } });
    const { token } = await make();
    const tries = [];
    for (let k = 0; k < 7; k++) tries.push((await open(`${k + 1}.${'A'.repeat(43)}`)).status);
    expect(tries).toEqual([404, 404, 404, 404, 404, 429, 429]);
    expect((await open(token)).status).toBe(200);
  });
});
