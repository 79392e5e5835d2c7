import { parseNodeTopic } from '../../firmware-protocol/index.ts';
import { checkMessage } from '../check-message.ts';
import { openJournalReader } from '../journal/reader.ts';
import type { JournaledRuns } from '../journaled-runs.ts';

/** About ten thousand packets: what all nodes together keep for a few minutes. */
const LOOK_BACK_BYTES = 16 * 1024 ** 2;

/**
 * Fills `runs` from the end of the journal. A node stays connected to the other broker while the station restarts, so
 * it would wait for ever for word of the packets that were kept just before.
 */
export async function rememberRuns(journalDir: string, runs: JournaledRuns): Promise<void> {
  const reader = await openJournalReader(journalDir);
  try {
    const end = await reader.endPosition();
    let position = Math.max(await reader.oldestPosition(), end - LOOK_BACK_BYTES);
    while (position < end) {
      const { records, nextPosition } = await reader.read(position);
      if (records.length === 0) return;
      for (const { topic, payload } of records) {
        const parsed = parseNodeTopic(topic);
        const checked = parsed?.kind === 'samples' ? checkMessage(parsed, payload) : null;
        if (checked?.ok && checked.span !== null) runs.add(checked.span);
      }
      position = nextPosition;
    }
  } finally {
    await reader.close();
  }
}
