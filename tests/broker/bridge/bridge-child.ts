/** A bridge in a process of its own, to be killed. Arguments: journal folder, address, name, password. */
import { createBridge, openJournalWriter } from '../../../broker/index.ts';
import { SITE } from '../credentials.ts';

const [dir, url, username, password] = process.argv.slice(2) as [string, string, string, string];
const write = (message: string) => console.error(message);
const log = { info: write, warn: write, error: write };
const journal = await openJournalWriter(dir, log, { segmentBytes: 2_000_000 });
const bridge = await createBridge({ site: SITE, url, username, password }, { journal, journalDir: dir, log });
const timer = setInterval(() => {
  if (!bridge.connected()) return;
  clearInterval(timer);
  console.log('ready');
}, 20);
