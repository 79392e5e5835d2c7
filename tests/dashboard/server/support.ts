import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { zoneOf } from '../../../collector/index.ts';
import type { DashboardDeps, Limits } from '../../../dashboard/server/config.ts';
import { buildApp, openRecordStore } from '../../../dashboard/server/index.ts';
import type { PasswordCost } from '../../../dashboard/server/records/password.ts';
import type { Role } from '../../../dashboard/server/records/people.ts';
import { storedReadings } from './stored-readings.ts';
import { tempDir } from './temp-dir.ts';

export const NODE_A = '00000000000000a1';
export const NODE_B = '00000000000000b2';
export const PASSWORD = 'a quiet gearbox';
/** Wednesday 2025-01-01 12:00:00 UTC. */
export const NOON_MS = 1_735_732_800_000;

/** Fast, so that tests of everything but the hash itself do not wait for it. */
export const CHEAP: PasswordCost = { logN: 4, blockSize: 8, parallel: 1 };

export function clock(startMs = NOON_MS) {
  let nowMs = startMs;
  return {
    now: () => nowMs,
    advance(ms: number) {
      nowMs += ms;
    },
  };
}

export function records(options: { now?: () => number; folder?: string } = {}) {
  const file = join(options.folder ?? tempDir(), 'records.sqlite');
  const store = openRecordStore(file, { now: options.now ?? Date.now, passwordCost: CHEAP });
  onTestFinished(() => store.close());
  return store;
}

export const HEALTHY = {
  journal: { bytes: 1, freeBytes: 2, waiting: false },
  counters: { accepted: 4 },
};

const ORIGIN = 'http://localhost';

/** An application on a real records file, without a port, and ways to call it as somebody. */
export async function testApp(
  options: {
    deps?: Partial<DashboardDeps>;
    limits?: Partial<Limits>;
    webRoot?: string;
    tls?: { key: string; cert: string };
    journalDir?: string;
    recordingsDir?: string;
    metricsToken?: string;
  } = {},
) {
  const time = clock();
  const store = options.deps?.records ?? records({ now: time.now });
  const readings = await storedReadings();
  const logged: string[] = [];
  const note = (message: string) => void logged.push(message);
  const { tls, journalDir, recordingsDir, webRoot = tempDir() } = options;
  const config = {
    site: 'depot',
    webRoot,
    ...(tls === undefined ? {} : { tls }),
    ...(journalDir === undefined ? {} : { journalDir }),
    ...(recordingsDir === undefined ? {} : { recordingsDir }),
    ...(options.metricsToken === undefined ? {} : { metricsToken: options.metricsToken }),
  };
  const { app, live } = await buildApp(config, {
    records: store,
    readings: readings.reader,
    zoneOf,
    health: () => HEALTHY,
    log: { info: note, warn: note, error: note },
    now: time.now,
    limits: { loginsPerMinute: 1000, ...options.limits },
    ...options.deps,
  });
  onTestFinished(() => app.close());

  async function as(role: Role) {
    const name = `${role} person`;
    const person =
      (await store.people.verify(name, PASSWORD)) ?? (await store.people.create(name, PASSWORD, role));
    const { token, session } = store.sessions.open(person);
    return { cookie: `clampline-session=${token}`, session };
  }

  /** Calls a route as the station's own page does, and reads the JSON answer. */
  async function call(
    method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE',
    url: string,
    {
      cookie,
      body,
      headers = {},
    }: { cookie?: string; body?: unknown; headers?: Record<string, string> } = {},
  ) {
    const response = await app.inject({
      method,
      url,
      headers: {
        host: 'localhost',
        origin: ORIGIN,
        ...(cookie === undefined ? {} : { cookie }),
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined
        ? {}
        : { payload: typeof body === 'string' || Buffer.isBuffer(body) ? body : JSON.stringify(body) }),
    });
    return {
      status: response.statusCode,
      headers: response.headers,
      text: response.body,
      json: parse(response.body),
    };
  }

  return { app, live, store, readings, logged, time, as, call };
}

// biome-ignore lint/suspicious/noExplicitAny: tests look into answers whose shape they are about to check
function parse(text: string): any {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
