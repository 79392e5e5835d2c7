export type { BearingResult, BearingVerdict } from './bearing-defect.ts';
export { type DiagnoseQuestion, type Diagnosis, diagnose } from './diagnose.ts';
export type { Finding, FindingKind, Rival } from './finding.ts';
export { type FollowedTone, type FollowQuestion, followsSpeed } from './follow/follows-speed.ts';
export { type OrderSpectrum, orderSpectrum } from './order-spectrum.ts';
export { analysisPlot, type PlotQuestion } from './plot/analysis-plot.ts';
export { linearTicks, tickText } from './plot/scale.ts';
export {
  randomErrorOfRms,
  randomErrorWithTones,
  statisticalBandwidthHz,
  velocityDensity,
} from './random-error.ts';
