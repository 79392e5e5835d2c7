/** The door of the collector: what other parts may use of it. */
export { type JournalPins, openJournalPins } from '../broker/journal/index.ts';
export { analysisPlot, linearTicks, tickText } from './analysis/index.ts';
export { CaptureError } from './capture/capture.ts';
export { createCollector } from './collector.ts';
export type { CollectorConfig } from './config.ts';
export {
  type BearingMultipliers,
  bearingFromText,
  type DriveTrain,
  driveTrainMistakes,
  fixedSets,
  KNOWN_BEARINGS,
  runningGearPairs,
  shaftSpeeds,
  tyreCircumferenceM,
  wheelHz,
} from './drivetrain/index.ts';
export { bandEdgeHz } from './dsp/twelfth-octaves.ts';
export { toMPerS2 } from './dsp/units.ts';
export * as exchange from './exchange/index.ts';
export { analyseSpan, type SpanAnswer, type SpanQuestion } from './findings/index.ts';
export * as inquiry from './inquiry/index.ts';
export { BAND_NAMES, type BandName } from './measure/band.ts';
export {
  type AnalysedChannel,
  type FileMeasurement,
  type MeasuredChannel,
  type MeasureOptions,
  measureFile,
} from './measure/measure-file.ts';
export type { Flag, LiveBlock, Reading } from './model.ts';
export type { CollectorState } from './publish/collector-state.ts';
export { addTap, type FeltTap } from './rig/felt-taps.ts';
export { gravityOf } from './rig/gravity.ts';
export { solveGravityCheck } from './rig/gravity-check.ts';
export { beginCheck, type CheckProgress, HOLD_SECONDS, takeSecond } from './rig/gravity-check-steps.ts';
export {
  ALONE_ON_VEHICLE_DEG,
  DEFAULT_TURN_DEG,
  type MotionLimits,
  MountMotion,
} from './rig/mount-motion.ts';
export type { NodeHealth } from './rig/node-health.ts';
export { judgeShaker, SHAKER_SECONDS, type ShakerCheckResult } from './rig/shaker-check.ts';
export { judgeNode } from './rig/soundness.ts';
export type { Tap } from './rig/tap.ts';
export { angleDeg } from './rig/vector.ts';
export { snapshotDatabases } from './store/backup.ts';
export { type AlertPoint, alertPointWriter } from './store/influx/alert-points.ts';
export { type FleetReader, type FleetSite, openFleetReader } from './store/influx/fleet-reader.ts';
export { influxHistory } from './store/influx/history.ts';
export type { LevelName } from './store/influx/layout.ts';
export type { LevelPoint } from './store/influx/level-points.ts';
export type { LevelSource } from './store/influx/level-teller.ts';
export type { Place } from './store/influx/place-points.ts';
export type { InfluxSettings } from './store/influx/settings.ts';
export { damageOf } from './store/integrity.ts';
export {
  type Checkpoint,
  type CopyProgress,
  compareHistory,
  copyHistory,
  type Difference,
} from './store/migration-copy.ts';
export { sqliteHistorySource, sqliteHistoryTarget } from './store/migration-copy-sqlite.ts';
export {
  openReadingStore,
  openStationReader,
  type StoreChoice,
} from './store/open-reading-store.ts';
export { LEFT_OUT_FLAGS } from './store/reading-row.ts';
export type { MeanSpectrum, ReadingReader, SensorKey } from './store/reading-store.ts';
export { openReadingReader } from './store/sqlite-reader.ts';
export * as trend from './trend/index.ts';
export { forKnownSensor, mountedSensorUncertainty } from './uncertainty/known-sensor.ts';
export * from './vehicle/index.ts';
export { openWav, type WavRecording } from './wav/open-wav.ts';
export { MACHINE_CLASSES, type MachineClass, zoneLimitsMmPerS, zoneOf } from './zones/zones.ts';
