import { join } from 'node:path';
import { generate } from 'selfsigned';
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import { createBridge, type JournalWriter, openJournalWriter } from '../../../broker/index.ts';
import { memoryLog, SITE, type Station, startStation, TOKEN, tempFolder } from '../station.ts';

const WAIT = { timeout: 15_000, interval: 50 };
let other: Station;
let cert: string;
let folder: Awaited<ReturnType<typeof tempFolder>>;
let journal: JournalWriter;

/** Another station's broker stands for the outside one: it speaks TLS, and lets nobody read what nodes publish. */
beforeAll(async () => {
  const made = await generate([{ name: 'commonName', value: 'localhost' }], {
    keyType: 'ec',
    extensions: [{ name: 'subjectAltName', altNames: [{ type: 2, value: 'localhost' }] }],
  });
  cert = made.cert;
  other = await startStation({ broker: { tls: { cert, key: made.private }, host: '127.0.0.1' } });
  folder = await tempFolder();
  journal = await openJournalWriter(join(folder.path, 'journal'), memoryLog());
});

afterAll(async () => {
  await journal?.close();
  await other?.close();
  await folder?.remove();
});

it.each([
  [
    'an account that may not read',
    { trusted: true, password: TOKEN },
    /does not let this account read clampline/,
  ],
  ['a wrong password', { trusted: true, password: 'wrong' }, /Bad username or password|Not authorized/i],
  ['a certificate that nobody vouches for', { trusted: false, password: TOKEN }, /self-signed certificate/],
])('%s is said once, and it is tried again', async (_what, { trusted, password }, expected) => {
  const log = memoryLog();
  const bridge = await createBridge(
    {
      site: SITE,
      url: `mqtts://localhost:${other.broker.port}`,
      username: 'station',
      password,
      ...(trusted ? { ca: cert } : {}),
    },
    { journal, journalDir: join(folder.path, 'journal'), log },
  );
  try {
    await vi.waitFor(() => expect(log.lines.join('\n')).toMatch(expected), WAIT);
    expect(log.lines.filter((line) => expected.test(line))).toHaveLength(1);
    expect(log.lines.join('\n')).not.toContain(TOKEN);
    expect(bridge.connected()).toBe(false);
  } finally {
    await bridge.close();
  }
});
