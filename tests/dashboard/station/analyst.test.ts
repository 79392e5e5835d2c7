import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { createThreadAnalyst } from '../../../dashboard/station/analyst.ts';
import { journalOf } from '../../collector/capture/journal-of.ts';
import { AXLE_BOARD, noisyRun } from '../../support/noisy-run.ts';
import { projectRoot } from '../../support/station.ts';
import { NOON_MS } from '../server/support.ts';

/** The built module: its thread is a file of its own, which only the build makes. */
const built = pathToFileURL(join(projectRoot, 'dist/dashboard/station/analyst.js')).href;

describe('the thread that answers', () => {
  let create: typeof createThreadAnalyst;
  let journal: Awaited<ReturnType<typeof journalOf>>;
  const sound = (fromS: number, toS: number) => ({
    source: {
      kind: 'journal' as const,
      journalDir: journal.dir,
      places: [
        {
          locationId: 1,
          name: 'axle',
          stays: [{ nodeId: AXLE_BOARD, sensor: 0, fromMs: NOON_MS, toMs: NOON_MS + 60_000 }],
        },
      ],
    },
    span: { fromMs: NOON_MS + 1000 * fromS, toMs: NOON_MS + 1000 * toS },
  });
  beforeAll(async () => {
    ({ createThreadAnalyst: create } = await import(built));
    journal = await journalOf(noisyRun(NOON_MS / 1000));
  });
  afterAll(() => journal.remove());

  it('answers one after the other, and passes on what it cannot answer in its own words', async () => {
    const analyst = create();
    const [one, other, none] = await Promise.allSettled([
      analyst.ask('sound', sound(10, 12)),
      analyst.ask('sound', sound(20, 23)),
      analyst.ask('sound', sound(70, 72)),
    ]);
    expect(one).toMatchObject({ status: 'fulfilled', value: { sampleRateHz: 24_000, gaps: [] } });
    expect(other.status === 'fulfilled' && other.value.wav.length).toBe(44 + 2 * 72_000);
    expect(none).toMatchObject({
      status: 'rejected',
      reason: { name: 'RangeError', message: 'no samples were recorded in this span' },
    });
    await analyst.close();
  });

  it('refuses what would wait too long, stops what takes too long, and goes on with a new thread', async () => {
    const analyst = create({ mostWaiting: 1, longestMs: 1 });
    const first = analyst.ask('sound', sound(10, 12));
    const second = analyst.ask('sound', sound(12, 14));
    await expect(analyst.ask('sound', sound(14, 16))).rejects.toMatchObject({ code: 'ANALYSIS_BUSY' });
    await expect(first).rejects.toMatchObject({ code: 'ANALYSIS_TOO_LONG' });
    await expect(second).rejects.toMatchObject({ code: 'ANALYSIS_TOO_LONG' });
    await analyst.close();
    await expect(analyst.ask('sound', sound(10, 12))).rejects.toMatchObject({ code: 'ANALYSIS_BUSY' });
  });
});
