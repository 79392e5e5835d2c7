/** The door of the collector: what other parts may use of it. */
export { toMPerS2 } from './dsp/units.ts';
export { BAND_NAMES, type BandName } from './measure/band.ts';
export {
  type FileMeasurement,
  type MeasuredChannel,
  measureFile,
} from './measure/measure-file.ts';
export type { Flag } from './model.ts';
export { openWav, type WavRecording } from './wav/open-wav.ts';
export { zoneOf } from './zones/zones.ts';
