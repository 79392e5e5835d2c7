import type { AuthenticateError, Client } from 'aedes';
import type { CredentialSource, Principal } from './access.ts';
import { addressOf } from './admission.ts';
import type { Counters } from './counters.ts';
import { reasonOf } from './errors.ts';
import { FailedLogins } from './failed-logins.ts';
import type { JournalWriter } from './journal/writer.ts';
import type { Log } from './log.ts';
import type { LogLimiter } from './log-limiter.ts';
import type { RefusedLogins } from './refused-logins.ts';

/** CONNACK codes (MQTT 3.1.1, table 3.1). */
const SERVER_UNAVAILABLE = 3;
const BAD_NAME_OR_PASSWORD = 4;

type Answer = { ok: true; principal: Principal } | { ok: false; error: AuthenticateError };

export interface LoginDeps {
  credentials: CredentialSource;
  journal: JournalWriter;
  counters: Counters;
  log: Log;
  limiter: LogLimiter;
  refused: RefusedLogins;
}

/** Decides who may connect. */
export function createLogin({ credentials, journal, counters, log, limiter, refused: knocked }: LoginDeps) {
  const failures = new FailedLogins();

  return async (
    client: Client,
    username: string | undefined,
    password: Buffer | undefined,
  ): Promise<Answer> => {
    const address = addressOf(client.conn as { remoteAddress?: string });
    let principal: Principal | null;
    try {
      principal = username && password ? await credentials.verify(username, password) : null;
    } catch (error) {
      counters.add('loginsUnchecked');
      limiter.limit('credentials', (note) =>
        log.error(`logins cannot be checked: ${reasonOf(error)}. Nobody is let in until they can.${note}`),
      );
      return refused(SERVER_UNAVAILABLE, 'logins cannot be checked now');
    }
    if (principal === null) {
      counters.add('loginsFailed');
      knocked.add(username, address, Date.now());
      const delayMs = failures.failed(address, Date.now());
      limiter.limit(`login ${address}`, (note) =>
        log.warn(
          `login from ${address} as '${printable(username)}' failed: unknown name or wrong password. If it is ` +
            `a node of this station, make new credentials for it and enter them there.${note}`,
        ),
      );
      await new Promise((resolve) => setTimeout(resolve, delayMs).unref());
      return refused(BAD_NAME_OR_PASSWORD, 'unknown name or wrong password');
    }
    if (principal.role === 'node' && journal.state().state === 'waiting') {
      // Nothing it sends could be kept or acknowledged: refusing says so at once, and bounds what waits in memory.
      counters.add('loginsPutOff');
      return refused(SERVER_UNAVAILABLE, 'the journal cannot be written now');
    }
    counters.add('logins');
    return { ok: true, principal };
  };
}

function refused(returnCode: number, message: string): Answer {
  return { ok: false, error: Object.assign(new Error(message), { returnCode }) as AuthenticateError };
}

function printable(text: string | undefined): string {
  return (text ?? '').slice(0, 40).replace(/[^\x20-\x7e]/g, '?');
}
