import { once } from 'node:events';
import http from 'node:http';
import https from 'node:https';
import { text } from 'node:stream/consumers';
import type { ApiError } from '../contract/model.ts';
import { StationError } from './errors.ts';

/** A person at a running station's HTTP interface, for commands. */
export interface PageClient {
  /** Throws StationError with what the station says, or `NO_STATION`. */
  call<Answer>(method: string, path: string, body?: unknown): Promise<Answer>;
}

const PATIENCE_MS = 30_000;

/** `ca`: certificate to trust, PEM, when the station has its own. Not fetch: it cannot be told to trust one. */
export function createPageClient(page: string, ca: string | undefined): PageClient {
  let cookie = '';

  async function send(method: string, path: string, body: unknown): Promise<http.IncomingMessage> {
    const url = new URL(path, page);
    const headers = {
      origin: url.origin,
      ...(cookie === '' ? {} : { cookie }),
      ...(body === undefined ? {} : { 'content-type': 'application/json' }),
    };
    const request =
      url.protocol === 'https:'
        ? https.request(url, { method, headers, timeout: PATIENCE_MS, ca })
        : http.request(url, { method, headers, timeout: PATIENCE_MS });
    request.on('timeout', () => request.destroy(new Error('it does not answer')));
    request.end(body === undefined ? undefined : JSON.stringify(body));
    const [answer] = (await once(request, 'response')) as [http.IncomingMessage];
    cookie = answer.headers['set-cookie']?.[0]?.split(';')[0] ?? cookie;
    return answer;
  }

  return {
    async call<Answer>(method: string, path: string, body?: unknown): Promise<Answer> {
      let status: number | undefined;
      let answered: unknown;
      try {
        const answer = await send(method, path, body);
        status = answer.statusCode;
        answered = JSON.parse(await text(answer));
      } catch (error) {
        const { message, code } = error as NodeJS.ErrnoException;
        throw new StationError('NO_STATION', `no station answers at ${page}: ${message || code}`);
      }
      if (status === 200) return answered as Answer;
      const { message = `status ${status}`, remedy } = answered as Partial<ApiError>;
      throw new StationError('STATION_REFUSED', message, remedy);
    },
  };
}
