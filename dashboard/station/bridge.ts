import { type Bridge, createBridge, type JournalWriter } from '../../broker/index.ts';
import type { Log } from './log.ts';
import { dataPaths, type Settings } from './settings.ts';
import { readCertificate } from './tls.ts';

/** The bridge to another broker, if one is set. */
export async function startBridge(
  settings: Settings,
  journal: JournalWriter,
  log: Log,
  heardEvent: (topic: string, payload: Buffer) => void,
): Promise<Bridge | null> {
  if (settings.bridge === null) return null;
  const { caFile, ...access } = settings.bridge;
  const ca = caFile === undefined ? {} : { ca: readCertificate(caFile) };
  const journalDir = dataPaths(settings.dataDir).journal;
  return createBridge({ site: settings.site, ...access, ...ca }, { journal, journalDir, log, heardEvent });
}
