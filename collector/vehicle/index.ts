export { evenSampleRateHz } from './even-rate.ts';
export {
  parseRecordedData,
  type RecordedColumn,
  type RecordedData,
  RecordedDataError,
} from './import-csv.ts';
export { decodeLiveData, decodeLiveDataText, type LiveQuantity, type LiveValue } from './live-data.ts';
export { MANOEUVRES, type Manoeuvre, type ManoeuvreId } from './manoeuvres.ts';
export { type RunSlipQuestion, runSlip, type SlipOverRun } from './run-slip.ts';
export { type ConverterState, clutchSlip, converterSlip, type ShaftSpeedValue, type Slip } from './slip.ts';
export { smoothSteps } from './smooth-steps.ts';
export { type Observation, reviewSuspects, type SuspectReview } from './suspects.ts';
export { type TroubleCodeNote, troubleCodeNote } from './trouble-codes.ts';
