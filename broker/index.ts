/** The door of this folder: the composition root imports from here; readers of the journal from journal/index.ts. */
export type { CredentialSource, Principal } from './access.ts';
export { type Broker, type BrokerDeps, createBroker } from './broker.ts';
export type { ConnectedClient } from './client-list.ts';
export type { BrokerConfig } from './config.ts';
export { BROKER_ERRORS, BrokerError, type BrokerErrorCode } from './errors.ts';
export type { RetentionRules } from './journal/retention.ts';
export {
  type JournalOptions,
  type JournalState,
  type JournalWriter,
  openJournalWriter,
} from './journal/writer.ts';
