import { setTimeout as sleep } from 'node:timers/promises';
import type { Asset, LocationReading } from '../../dashboard/contract/model.ts';
import type { RunningStation } from './station.ts';

export const PERSON = { name: 'Ada', password: 'minibus-garage-1' };

/** A person at the station's HTTP interface. */
export interface StationClient {
  get<T>(path: string): Promise<T>;
  send<T>(method: string, path: string, body?: unknown): Promise<T>;
}

/** Uses the one-time link to make the first person and stays logged in. */
export async function setUp(station: Pick<RunningStation, 'pageUrl' | 'setupUrl'>): Promise<StationClient> {
  const token = new URL(station.setupUrl ?? '').hash.slice(1);
  let cookie = '';
  async function send<T>(method: string, path: string, body?: unknown): Promise<T> {
    const response = await fetch(new URL(path, station.pageUrl), {
      method,
      headers: {
        origin: station.pageUrl,
        cookie,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    cookie = response.headers.getSetCookie().map((line) => line.split(';')[0])[0] ?? cookie;
    if (!response.ok) throw new Error(`${method} ${path}: ${response.status} ${await response.text()}`);
    return (response.status === 204 ? undefined : await response.json()) as T;
  }
  await send('POST', '/api/setup', { token, ...PERSON });
  return { get: (path) => send('GET', path), send };
}

/** Waits until every location of the newest asset has readings and no new ones come for a while. */
export async function readingsAfterReplay(
  client: StationClient,
  seconds: number,
): Promise<LocationReading[][]> {
  const asset = (await client.get<Asset[]>('/api/assets')).at(-1)!;
  const read = () =>
    Promise.all(
      asset.locations.map(({ id }) => {
        const nowMs = Date.now();
        return client.get<LocationReading[]>(
          `/api/locations/${id}/readings?fromMs=${nowMs - 3_000_000}&toMs=${nowMs + 60_000}`,
        );
      }),
    );
  const until = Date.now() + 60_000;
  for (;;) {
    const readings = await read();
    if (readings.every((list) => list.length >= seconds)) return readings;
    if (Date.now() > until)
      throw new Error(`only ${readings.map((list) => list.length)} readings of ${seconds}`);
    await sleep(1_000);
  }
}
