/** The door of this folder: the composition root imports from here; readers of the journal from journal/index.ts. */
export type { CredentialSource } from './access.ts';
export { type Bridge, createBridge } from './bridge/bridge.ts';
export type { BridgeConfig } from './bridge/config.ts';
export { type Broker, createBroker } from './broker.ts';
export type { BrokerConfig } from './config.ts';
export { BROKER_ERRORS, BrokerError } from './errors.ts';
export { type JournalOptions, type JournalWriter, openJournalWriter } from './journal/writer.ts';
export type { RefusedLogin } from './refused-logins.ts';
