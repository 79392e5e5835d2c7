import { Validator } from '@seriousme/openapi-schema-validator';
import { OpenAPIClientAxios } from 'openapi-client-axios';
import { describe, expect, it } from 'vitest';
import type { Asset } from '../../../dashboard/contract/model.ts';
import { PASSWORD, testApp } from './support.ts';

type Test = Awaited<ReturnType<typeof testApp>>;

interface Operation {
  operationId: string;
  parameters?: { name: string; in: string; required?: boolean }[];
  responses: Record<string, unknown>;
  security: unknown[];
}

interface Document {
  openapi: string;
  paths: Record<string, Record<string, Operation>>;
}

async function documentOf(test: Test): Promise<Document> {
  const { status, json } = await test.call('GET', '/api/openapi.json', await test.as('technician'));
  expect(status).toBe(200);
  return json;
}

/** `GET /api/assets/{id}` of every route, as the server's own tree of routes tells it. */
function routesOf({ app }: Test): string[] {
  const routes: string[] = [];
  const path: string[] = [];
  for (const line of app.printRoutes({ commonPrefix: false }).split('\n')) {
    const [, indent, part, methods] = /^(.*?)[├└]── (\S*)(?: \(([^)]*)\))?/.exec(line) ?? [];
    if (part === undefined) continue;
    const depth = indent!.length / 4;
    path.splice(depth, path.length, part);
    const url = path.join('').replace(/:(\w+)/g, '{$1}');
    for (const method of methods?.split(', ') ?? []) {
      if (method !== 'HEAD' && !url.includes('*')) routes.push(`${method} ${url}`);
    }
  }
  return routes;
}

describe('the description of the interface', () => {
  it('is valid OpenAPI 3.1', async () => {
    const document = await documentOf(await testApp());
    expect(document.openapi).toBe('3.1.0');
    const result = await new Validator().validate(document as never);
    expect(result.errors ?? []).toEqual([]);
    expect(result.valid).toBe(true);
  });

  it('holds every route, and nothing else', async () => {
    const test = await testApp();
    const { paths } = await documentOf(test);
    const described = Object.entries(paths).flatMap(([url, operations]) =>
      Object.keys(operations).map((method) => `${method.toUpperCase()} ${url}`),
    );
    // The owner's page is no part of the interface; what it reads is.
    const routes = routesOf(test).filter((route) => route !== 'GET /owner');
    expect(routes.length).toBeGreaterThan(40);
    expect(described.sort()).toEqual(routes.sort());
  });

  it('names each operation once, its parameters, its failure and who may use it', async () => {
    const { paths } = await documentOf(await testApp());
    const operations = Object.entries(paths).flatMap(([url, own]) =>
      Object.values(own).map((operation) => ({ url, ...operation })),
    );
    const names = operations.map(({ operationId }) => operationId);
    expect(new Set(names).size).toBe(names.length);
    for (const { url, parameters = [], responses } of operations) {
      const inPath = [...url.matchAll(/\{(\w+)\}/g)].map(([, name]) => name);
      expect(parameters.filter((p) => p.in === 'path').map(({ name }) => name)).toEqual(inPath);
      expect(responses['default']).toMatchObject({ description: expect.stringContaining('what to do') });
    }
    expect(paths['/api/login']!['post']!.security).toEqual([]);
    expect(paths['/api/assets']!['get']!.security).toEqual([{ session: [] }]);
    const trend = paths['/api/locations/{id}/trend']!['get']!.parameters!;
    expect(trend.find(({ name }) => name === 'fromMs')).toMatchObject({ in: 'query', required: true });
    expect(trend.find(({ name }) => name === 'points')!.required ?? false).toBe(false);
  });

  it('is for people of the station', async () => {
    const { call } = await testApp();
    expect((await call('GET', '/api/openapi.json')).status).toBe(401);
  });

  it('makes a client that works', async () => {
    const test = await testApp();
    const definition = await documentOf(test);
    await test.as('shop');
    const baseURL = await test.app.listen({ host: '127.0.0.1', port: 0 });
    const api = new OpenAPIClientAxios({
      definition: definition as never,
      axiosConfigDefaults: { baseURL, headers: { origin: baseURL }, validateStatus: () => true },
    });
    const client = await api.init();
    const call = (operation: string, parameters?: Record<string, number>, sent?: unknown) =>
      client[operation]!(parameters, sent);
    const login = await call('postLogin', undefined, { name: 'shop person', password: PASSWORD });
    expect(login.status).toBe(200);
    const cookie = login.headers['set-cookie']?.[0]?.split(';')[0];
    client.defaults.headers.common['cookie'] = cookie!;

    const body = { name: 'Bus 1', kind: 'vehicle', machineClass: 'II' };
    const made = await call('postAssets', undefined, body);
    expect(made.status).toBe(200);
    const { id } = made.data as Asset;
    const place = { name: 'Hub', component: 'Rear axle' };
    expect((await call('postAssetsByIdLocations', { id }, place)).status).toBe(200);
    const { data } = await call('getAssets');
    expect(data).toMatchObject([{ ...body, id, locations: [place] }]);
    const refused = await call('getLocationsByIdTrend', { id: 999, fromMs: 0, toMs: 1 });
    expect(refused.status).toBe(404);
    expect(refused.data).toMatchObject({ code: 'LOCATION_NOT_FOUND', remedy: expect.any(String) });
  });
});
