import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { join } from 'node:path';

export const RECORDED = join(import.meta.dirname, 'recorded');

/** Which recorded answer belongs to a question in Flux, by the measurement it asks for. */
export function recordingOf(flux: string): string {
  if (flux.includes('"place"')) return 'places.csv';
  if (flux.includes('"reading_1s"')) return 'levels.csv';
  if (flux.includes('"alert"')) return flux.includes('"open"') ? 'open-alerts.csv' : 'alerts.csv';
  return 'none';
}

/**
 * Stands in for a database that knows Flux: answers the questions after a fleet of sites with what a Flux engine
 * (that of InfluxDB 1.8, asked the same questions) answered when it was recorded, byte for byte. It judges no query:
 * those are held by a parser of Flux, and by a real engine where one is reachable.
 */
export async function replayFlux(options: { fail?: () => number | null; behind?: string } = {}) {
  let asked = 0;
  const server = createServer(async (request, response) => {
    const chunks: Buffer[] = [];
    for await (const chunk of request) chunks.push(chunk as Buffer);
    const status = options.fail?.() ?? 200;
    if (status !== 200 || !request.url!.startsWith('/api/v2/query')) {
      response.writeHead(status === 200 ? 404 : status).end('{"message":"no"}');
      return;
    }
    asked++;
    const { query } = JSON.parse(Buffer.concat(chunks).toString()) as { query: string };
    response
      .writeHead(200, { 'content-type': 'text/csv; charset=utf-8' })
      .end(readFileSync(join(RECORDED, recordingOf(query)), 'utf8') + (options.behind ?? ''));
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  return {
    settings: { url: `http://127.0.0.1:${port}`, token: 't', org: 'o', bucket: 'b' },
    asked: () => asked,
    close: () => new Promise((resolve) => server.close(resolve).closeAllConnections()),
  };
}
