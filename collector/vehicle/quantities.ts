/** Quantities of recorded vehicle data, the names and units under which files give them. */

export type Quantity =
  | 'engineSpeedRpm'
  | 'turbineSpeedRpm'
  | 'outputSpeedRpm'
  | 'roadSpeedKmH'
  | 'engineLoadPercent'
  | 'coolantTemperatureC'
  | 'gear'
  | 'accelerationMPerS2'
  | 'other';

interface QuantityKind {
  quantity: Exclude<Quantity, 'other'>;
  /** Matches the column's name in lower case. */
  name: RegExp;
  /** Unit in lower case -> value in the unit of the quantity's name. */
  units: Readonly<Record<string, (value: number) => number>>;
}

const same = (value: number) => value;
const PER_MINUTE = {
  rpm: same,
  '1/min': same,
  'r/min': same,
  hz: (v: number) => 60 * v,
  '1/s': (v: number) => 60 * v,
};

export const QUANTITIES: readonly QuantityKind[] = [
  { quantity: 'engineSpeedRpm', name: /^engine (speed|rpm)$/, units: PER_MINUTE },
  { quantity: 'turbineSpeedRpm', name: /^(turbine|gearbox input) speed$/, units: PER_MINUTE },
  { quantity: 'outputSpeedRpm', name: /^(gearbox )?output speed$/, units: PER_MINUTE },
  {
    quantity: 'roadSpeedKmH',
    name: /^(road|vehicle) speed$/,
    units: { 'km/h': same, 'm/s': (v) => 3.6 * v, mph: (v) => 1.609344 * v },
  },
  { quantity: 'engineLoadPercent', name: /^(engine )?load$/, units: { '%': same } },
  {
    quantity: 'coolantTemperatureC',
    name: /^coolant( temperature)?$/,
    units: { '°c': same, c: same, '°f': (v) => ((v - 32) * 5) / 9, f: (v) => ((v - 32) * 5) / 9 },
  },
  { quantity: 'gear', name: /^gear$/, units: { '': same } },
  {
    quantity: 'accelerationMPerS2',
    name: /acceleration/,
    units: { 'm/s2': same, 'm/s²': same, 'm/s^2': same, g: (v) => 9.80665 * v, mg: (v) => 0.00980665 * v },
  },
];

/** Unit of time -> seconds. */
export const TIME_UNITS: Readonly<Record<string, number>> = { s: 1, sec: 1, ms: 1e-3, min: 60 };
