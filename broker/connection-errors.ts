import type { Aedes, Client } from 'aedes';
import { addressOf } from './admission.ts';
import type { ClientList } from './client-list.ts';
import type { Counters } from './counters.ts';
import { reasonOf } from './errors.ts';
import type { Log } from './log.ts';
import type { LogLimiter } from './log-limiter.ts';

/** Errors of a connection that have a count of their own, by the text aedes gives them. */
const COUNTED: Record<string, string> = {
  'keep alive timeout': 'keepAliveTimeouts',
  'connect did not arrive in time': 'connectTimeouts',
  'drain timeout': 'slowSubscribersCut',
};

/** Counts why connections end other than by a proper goodbye, and reports what an operator can mend. */
export function reportConnectionErrors(
  aedes: Aedes,
  clients: ClientList,
  counters: Counters,
  log: Log,
  limiter: LogLimiter,
): void {
  // A connection that fails with several messages under way reports as many errors: the first one tells why.
  const reported = new WeakSet<Client>();
  const count = (client: Client, error: Error) => {
    if (reported.has(client)) return;
    reported.add(client);
    const name = COUNTED[reasonOf(error)] ?? 'connectionErrors';
    counters.add(name);
    if (name !== 'slowSubscribersCut') return;
    const who = clients.get(client);
    const label = who === undefined ? addressOf(client.conn as object) : clients.nameOf(who.principal);
    limiter.limit(`slow ${label}`, (note) =>
      log.warn(`${label} did not take its messages for some seconds and was disconnected.${note}`),
    );
  };
  aedes.on('clientError', count);
  aedes.on('connectionError', count);
  // The type declarations leave this event out.
  (aedes as unknown as NodeJS.EventEmitter).on('error', (error: unknown) => {
    counters.add('brokerErrors');
    limiter.limit('broker', (note) => log.error(`broker: ${reasonOf(error)}${note}`));
  });
}
