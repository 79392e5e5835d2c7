import fastifySwagger from '@fastify/swagger';
import { Type } from 'typebox';
import { ApiError } from '../../contract/model.ts';
import type { App } from '../context.ts';

type Json = Record<string, unknown>;

/** Addresses of the interface beside `/api`, and who may use them. */
const OUTSIDE = new Map<string, Json[]>([
  ['/metrics', [{ metricsToken: [] }, {}]],
  ['/owner/view', [{ ownerToken: [] }]],
]);

/**
 * Describes the interface as OpenAPI 3.1, made from the very schemas that check requests and answers. To be called
 * before the routes are made.
 */
export async function describeInterface(app: App): Promise<void> {
  await app.register(fastifySwagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Clampline station',
        version: '1',
        description:
          'Times are Unix milliseconds of event time. Values carry their unit in their name. Who logs in gets a ' +
          'session cookie; a request that changes something must carry the Origin of the station itself.',
      },
      components: {
        securitySchemes: {
          session: { type: 'apiKey', in: 'cookie', name: 'clampline-session' },
          metricsToken: { type: 'http', scheme: 'bearer' },
          ownerToken: { type: 'http', scheme: 'bearer' },
        },
      },
    },
    transform({ schema, url, route }) {
      if (!url.startsWith('/api/') && !OUTSIDE.has(url)) return { schema: { hide: true }, url };
      const own = withTuples(schema ?? {}) as Json;
      return { schema: { ...own, ...described(String(route.method), url, route.config?.access, own) }, url };
    },
  });
}

/** GET /api/openapi.json: the description, for who is logged in. */
export function openApiRoute(app: App): void {
  const Document = Type.Object({ openapi: Type.String() }, { additionalProperties: true });
  app.get('/openapi.json', { schema: { response: { 200: Document } } }, () => app.swagger() as never);
}

const UPGRADE = { 101: { description: 'A websocket; its messages are JSON.', type: 'null' } };

function described(method: string, url: string, access: 'open' | 'shop' | undefined, schema: Json): Json {
  const [, , subject = 'api'] = url.split('/');
  const failure = { description: 'What was wrong, where, and what to do.', ...ApiError };
  // The websocket plug-in hides its routes; that there is one belongs into the description.
  const hidden = schema['hide'] === true;
  const forShop = access === 'shop' ? { description: 'Needs the role shop.' } : {};
  return {
    operationId: operationId(method, url),
    tags: [subject.replace(/\..*/, '')],
    security: OUTSIDE.get(url) ?? (access === 'open' ? [] : [{ session: [] }]),
    ...(schema['description'] === undefined ? forShop : {}),
    response: { ...(hidden ? UPGRADE : (schema['response'] as Json | undefined)), default: failure },
    hide: false,
  };
}

/** `GET /api/assets/:id/locations` -> `getAssetsByIdLocations`. */
function operationId(method: string, url: string): string {
  const words = url
    .replace(/^\/api\//, '')
    .split(/[/.-]/)
    .filter((word) => word !== '')
    .map((word) => (word.startsWith(':') ? `By${capital(word.slice(1))}` : capital(word)));
  return method.toLowerCase() + words.join('');
}

function capital(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1);
}

/** JSON Schema 2020-12, which OpenAPI 3.1 takes, has the members of a tuple under another name. */
function withTuples(schema: unknown): unknown {
  if (Array.isArray(schema)) return schema.map(withTuples);
  if (typeof schema !== 'object' || schema === null) return schema;
  const changed = Object.fromEntries(
    Object.entries(schema).map(([key, value]) => [key, withTuples(value)]),
  ) as Json;
  if (changed['type'] !== 'array' || !Array.isArray(changed['items'])) return changed;
  const { items, additionalItems, ...rest } = changed;
  return { ...rest, prefixItems: items, ...(additionalItems === false ? { items: false } : {}) };
}
