import type { AddressInfo } from 'node:net';
import { text } from 'node:stream/consumers';
import { SMTPServer } from 'smtp-server';
import { onTestFinished } from 'vitest';

/** A real SMTP server on this machine; with an account, it asks for it. */
export async function mailServer(account?: { user: string; password: string }) {
  const mails: { from: string; to: string[]; text: string }[] = [];
  const server = new SMTPServer({
    authOptional: account === undefined,
    disabledCommands: account === undefined ? ['AUTH', 'STARTTLS'] : ['STARTTLS'],
    // On this machine only, where nobody reads along.
    allowInsecureAuth: true,
    onAuth({ username, password }, _session, done) {
      const isRight = username === account?.user && password === account?.password;
      done(isRight ? null : new Error('no'), { user: username ?? '' });
    },
    onData(stream, { envelope: { mailFrom, rcptTo } }, done) {
      void text(stream).then((all) => {
        const from = mailFrom === false ? '' : mailFrom.address;
        mails.push({ from, to: rcptTo.map(({ address }) => address), text: all });
        done();
      });
    },
  });
  server.on('error', () => {});
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const stop = () => new Promise<void>((resolve) => server.close(resolve));
  onTestFinished(stop);
  const { port } = server.server.address() as AddressInfo;
  return { url: `smtp://127.0.0.1:${port}`, mails, stop };
}
