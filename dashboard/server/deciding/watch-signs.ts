import type { AssetRecord } from '../records/assets.ts';

/** What ends the waiting without any sensor. All of it common practice, no source. */
const BOTH = [
  'The noise is clearly louder, lower or rougher than when this was agreed, or comes at other speeds.',
  'Oil or grease has come out at the part.',
  'A burnt smell, or smoke.',
  'Play that can be felt by hand, everything at rest.',
];

const VEHICLE = [
  'A warning lamp is on.',
  'The vehicle pulls to one side, shakes, or the steering feels different: stop at once.',
  'After a drive, one wheel or housing is much hotter than the same one on the other side.',
  'Metal on the drain plug’s magnet, or glitter in the oil.',
];

const MACHINE = [
  'The motor’s protection has tripped.',
  'The housing is much hotter than usual.',
  'A belt slips or squeals, or a guard or a bolt has come loose.',
];

export const commonSigns = ({ kind }: AssetRecord): string[] => [
  ...BOTH,
  ...(kind === 'vehicle' ? VEHICLE : MACHINE),
];
