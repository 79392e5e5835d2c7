import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { describe, expect, it, onTestFinished } from 'vitest';
import type { AlertMessage } from '../../../../dashboard/contract/alerts.ts';
import { openRecordStore } from '../../../../dashboard/server/index.ts';
import { tempDir } from '../temp-dir.ts';

const program = fileURLToPath(new URL('./alert-child.ts', import.meta.url));
/** CLAMPLINE_KILLS=100 for the long run. */
const ROUNDS = Number(process.env['CLAMPLINE_KILLS'] ?? 4);

describe('a station that is killed while it raises and sends alerts', () => {
  it(`loses none and makes none twice (${ROUNDS} kills)`, {
    timeout: 120_000 + ROUNDS * 15_000,
  }, async () => {
    const got: AlertMessage[] = [];
    const server = createServer((request, response) => {
      let body = '';
      request.setEncoding('utf8').on('data', (part) => {
        body += part;
      });
      request.on('end', () => {
        got.push(JSON.parse(body) as AlertMessage);
        response.end();
      });
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    onTestFinished(() => {
      server.closeAllConnections();
      server.close();
    });
    const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/`;
    const file = join(tempDir(), 'records.sqlite');
    for (let round = 0; round < ROUNDS; round++) {
      const child = spawn(process.execPath, ['--import', 'tsx', program, file, url], {
        stdio: ['ignore', 'pipe', 'inherit'],
      });
      const ended = once(child, 'exit');
      await Promise.race([once(child.stdout, 'data'), ended]);
      await sleep(150 + Math.random() * 400);
      child.kill('SIGKILL');
      await ended;
    }
    const store = openRecordStore(file);
    onTestFinished(() => store.close());
    const seen = store.alerts.state<number>('seen')!;
    const alerts = store.alerts.list({ state: 'all', limit: 1_000_000 });
    // Every second step raises one.
    expect(seen).toBeGreaterThan(ROUNDS);
    expect(alerts).toHaveLength(Math.ceil(seen / 2));
    const events = alerts.length + alerts.filter(({ clearedMs }) => clearedMs !== null).length;
    const waiting = store.alertOutbox
      .due(Number.MAX_SAFE_INTEGER, 1_000_000)
      .filter(({ channel }) => channel === 'webhook');
    // `due` gives the oldest of each alert; a "cleared" waits behind its "raised".
    const behind = waiting.filter(
      ({ event, alertId }) =>
        event === 'raised' && alerts.find(({ id }) => id === alertId)?.clearedMs !== null,
    );
    const idOf = new Map<string, Set<string>>();
    for (const { alert, event, messageId } of got) {
      const key = `${alert?.id} ${event}`;
      idOf.set(key, (idOf.get(key) ?? new Set()).add(messageId));
    }
    // Sent twice at most under the same number; never two messages of one event.
    expect([...idOf.values()].filter((ids) => ids.size > 1)).toEqual([]);
    const unsent = new Set([
      ...waiting.map(({ alertId, event }) => `${alertId} ${event}`),
      ...behind.map(({ alertId }) => `${alertId} cleared`),
    ]);
    const known = new Set([...idOf.keys(), ...unsent]);
    expect(known.size).toBe(events);
    expect(idOf.size).toBeGreaterThan(0);
  });
});
