/** The door of this folder: other folders import from here only. */
export { buildApp } from './app.ts';
export type { DashboardConfig, DashboardDeps } from './config.ts';
export { createDashboard, type Dashboard } from './dashboard.ts';
export { type NodeCredentials, openNodeCredentials, type Principal } from './records/node-credentials.ts';
export { RecordError } from './records/record-error.ts';
export { openRecordStore, type RecordStore } from './records/record-store.ts';
