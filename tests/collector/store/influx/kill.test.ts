import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import { door } from './door.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-influx-kill-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const program = fileURLToPath(new URL('./store-child.ts', import.meta.url));

const KILLS = 8;
const BEGIN_S = 1_760_000_400;

/** Runs the child until it has committed so many seconds, then kills it; gives the last one it said was durable. */
async function runAndKill(file: string, url: string, commits: number): Promise<number> {
  const child = spawn(process.execPath, ['--import', 'tsx', program, file, url], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = once(child, 'exit');
  let last = -1;
  let seen = 0;
  for await (const line of createInterface({ input: child.stdout })) {
    last = Number(line);
    if (++seen === commits) child.kill('SIGKILL');
  }
  await ended;
  return last;
}

describe('a station that is killed', () => {
  it('has delivered, after its next starts, every committed reading and minute, each with the same values', async () => {
    let request = 0;
    // The database is not well either: it refuses every third request.
    const { url, taken, close } = await door(() => ({ status: request++ % 3 === 1 ? 503 : 204 }));
    const file = join(folder, 'readings.sqlite');
    let durable = -1;
    for (let kill = 0; kill < KILLS; kill++) {
      durable = Math.max(durable, await runAndKill(file, url, 20 + kill * 31));
    }
    const store = await openInfluxStore(file, { url, token: 't', org: 'o', bucket: 'b' }, { site: 'depot' });
    expect(await store.delivered(30_000)).toBe(true);
    const position = await store.journalPosition();
    expect(position).toBeGreaterThan(durable);
    expect(store.delivery()).toMatchObject({ waiting: 0, dropped: 0, rejected: 0 });
    await store.close();
    await close();

    const points = new Map<string, string>();
    for (const line of taken) {
      const [series, fields, time] = line.split(' ') as [string, string, string];
      const key = `${series} ${time}`;
      // Sent again after a kill is allowed, changed is not.
      if (points.has(key)) expect(fields).toBe(points.get(key));
      points.set(key, fields);
    }
    const times = (measurement: string, axis: string) =>
      [...points.keys()]
        .filter((key) => key.startsWith(`${measurement},axis=${axis},`))
        .map((key) => Number(key.split(' ')[1]))
        .sort((a, b) => a - b);
    expect(times('reading_1s', 'single')).toEqual(Array.from({ length: position }, (_, k) => BEGIN_S + k));
    expect(times('reading_1m', 'highest')).toHaveLength(Math.floor((position - 1) / 60));
  }, 120_000);
});
