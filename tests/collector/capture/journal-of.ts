import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openJournalWriter } from '../../../broker/index.ts';
import type { SentMessage } from '../../support/simulated-node.ts';

/** A real journal that holds these messages, in a folder of its own. */
export async function journalOf(messages: readonly SentMessage[], segmentBytes = 200_000) {
  const folder = await mkdtemp(join(tmpdir(), 'clampline-capture-'));
  const dir = join(folder, 'journal');
  const silent = () => undefined;
  const writer = await openJournalWriter(
    dir,
    { info: silent, warn: silent, error: silent },
    { segmentBytes, retention: { minFreeBytes: 0, maxAgeMs: 1e15 } },
  );
  const ordered = [...messages].sort((a, b) => a.arrivedAtUs - b.arrivedAtUs);
  // One segment after another needs one write after another.
  for (let at = 0; at < ordered.length; at += 64) {
    const some = ordered.slice(at, at + 64);
    await Promise.all(
      some.map(({ topic, payload, arrivedAtUs }) => writer.append(topic, payload, arrivedAtUs)),
    );
  }
  await writer.close();
  return { dir, remove: () => rm(folder, { recursive: true, force: true }) };
}
