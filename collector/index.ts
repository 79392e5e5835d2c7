/** The door of the collector: what other parts may use of it. */
export { type Collector, type CollectorDeps, type CollectorLog, createCollector } from './collector.ts';
export type { CollectorConfig, MqttAccess } from './config.ts';
export { toMPerS2 } from './dsp/units.ts';
export { CollectorError, type CollectorErrorCode } from './errors.ts';
export { BAND_NAMES, type BandName } from './measure/band.ts';
export {
  type FileMeasurement,
  type MeasuredChannel,
  measureFile,
} from './measure/measure-file.ts';
export type { AxisValues, Flag, LiveBlock, Reading } from './model.ts';
export type { CollectorState } from './publish/collector-state.ts';
export type { ReadingReader, SensorKey, Series, SeriesQuery, SeriesValue } from './store/reading-store.ts';
export { openReadingReader } from './store/sqlite-reader.ts';
export { openWav, type WavRecording } from './wav/open-wav.ts';
export { zoneOf } from './zones/zones.ts';
