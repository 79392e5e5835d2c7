/**
 * A broker in a process of its own, to be killed or measured. Arguments: journal folder, and with `none` behind it a
 * journal that keeps nothing, to tell what keeping costs. Prints its port.
 */
import { createBroker, type JournalWriter, openJournalWriter } from '../../broker/index.ts';
import { credentials, SITE } from './credentials.ts';

const [dir, kind] = process.argv.slice(2);
const write = (message: string) => console.error(message);
const log = { info: write, warn: write, error: write };
const nothing: JournalWriter = {
  append: async () => 0,
  state: () => ({ state: 'ready' }),
  counters: () => ({}),
  enforceRetention: async () => {},
  close: async () => {},
};
// Small segments for the killing, so that it also meets the change from one to the next.
const journal = kind === 'none' ? nothing : await openJournalWriter(dir!, log, { segmentBytes: 2_000_000 });
const broker = await createBroker({ site: SITE, port: 0 }, { credentials, journal, log });
console.log(broker.port);
