/** The door of this folder: other folders import from here only. */
export { buildApp } from './app.ts';
export { createDashboard, type Dashboard } from './dashboard.ts';
export { settingsHeader } from './enrolment.ts';
export { explained } from './errors.ts';
export { CarriedRowError } from './records/carried/carried-rows.ts';
export { openNodeCredentials } from './records/node-credentials.ts';
export { openRecordStore, type RecordStore } from './records/record-store.ts';
export { printPdf } from './report/pdf.ts';
export { openStationReporter } from './report/station-reporter.ts';
export type { Analyst } from './runs/analyst.ts';
export { createSources } from './runs/sources.ts';
