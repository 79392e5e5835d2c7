export { type BearingGeometry, type BearingMultipliers, bearingMultipliers } from './bearing.ts';
export { bearingFromText } from './bearing-text.ts';
export { type RunningGearPair, runningGearPairs } from './gear-pairs.ts';
export { KNOWN_BEARINGS, knownBearing } from './known-bearings.ts';
export { type ExpectedLine, expectedLines, linesNear } from './lines.ts';
export { type Coupling, type DriveTrain, driveTrainMistakes } from './model.ts';
export { fixedSets, type ShaftSpeeds, shaftSpeeds } from './speeds.ts';
export { tyreCircumferenceM, wheelHz } from './tyre.ts';
