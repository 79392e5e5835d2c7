import type { NextMeasurementCode } from './result.ts';

/** What would settle it, in words for the person at the vehicle. */
export const NEXT_MEASUREMENTS: Readonly<Record<NextMeasurementCode, string>> = {
  'record-longer': 'record at least 20 s under the same conditions',
  'mark-noise':
    'record again and mark the seconds with the noise and some without it, so that only the noise is compared',
  'vary-speed':
    'record again while the speed changes slowly: a source stays in the lead at every speed, a resonance on the path helps one location at one frequency only',
  'move-sensor':
    'move one sensor closer to the suspected part, or put one on a part that has none, and record again',
  'swap-sensors':
    'swap the two sensors and record again: a real lead stays at its location, a difference of the sensors moves with them',
  'one-board': 'put both locations on sensors of one board, so that their waveforms can be compared',
  'tap-path':
    'with the vehicle standing and the engine off, rap the part under each sensor: if one of them rings in the bands where it leads, that is a resonance and not the source; then record again at another speed',
};
