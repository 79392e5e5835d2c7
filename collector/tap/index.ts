export { type Felt, type Identification, type SensorBlock, whichSensorFelt } from './identify.ts';
export { findRaps, type Rap } from './impulse.ts';
export { type RepeatedMode, repeatedModes } from './repeated.ts';
export { type RingDown, type RingDownOptions, type RingMode, ringDowns } from './ring-down.ts';
export { compareSides, type SideComparison } from './sides.ts';
