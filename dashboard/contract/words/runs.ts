/** Words of runs: kinds, checks, outcomes, vehicle values, cautions. */
import type { CheckId, Complaint, Outcome, RunKind, VehicleQuantity } from '../runs.ts';

export const KINDS: readonly {
  kind: RunKind;
  label: string;
  explanation: string;
  cautions: readonly string[];
}[] = [
  {
    kind: 'road',
    label: 'Road',
    explanation: 'The vehicle is driven. A passenger operates this page.',
    cautions: [
      'The driver drives: no screen, no headphones. A passenger operates this page.',
      'Everything loose is put away; pull at each clamp before moving off.',
      'A vehicle that may be unsafe is not driven to find out.',
    ],
  },
  {
    kind: 'lift',
    label: 'Lift',
    explanation: 'The vehicle is lifted and its wheels turn.',
    cautions: [
      'Driven wheels clear of the ground, of the lift’s arms and of people; nobody in line with a turning wheel or shaft.',
      'Keep to a speed cap. With an open differential one free wheel turns at twice the speed shown.',
      'Hanging wheels put joints at their full angle: keep it short and slow, or support the suspension near ride height.',
      'Extract the exhaust. Stands and supports as the lift’s maker says.',
    ],
  },
  {
    kind: 'bench',
    label: 'Bench or in place',
    explanation: 'A machine where it stands, or a vehicle that does not move.',
    cautions: [
      'Parking brake on, wheels chocked, nobody in front of the vehicle.',
      'Extract the exhaust; keep hands, hair and clothing away from belts, fans and shafts.',
    ],
  },
];

export const kindWords = (kind: RunKind) => KINDS.find((entry) => entry.kind === kind)!;

/** Common practice, no source. */
export const CHECKS: readonly { id: CheckId; label: string; hint: string }[] = [
  { id: 'fluid', label: 'Fluids', hint: 'Level, colour and smell; metal on the drain plug’s magnet.' },
  { id: 'play', label: 'Play', hint: 'Wheel bearings, joints and prop shaft moved by hand, engine off.' },
  { id: 'mounts', label: 'Mounts', hint: 'Engine, gearbox and axle mounts: torn, oily, collapsed?' },
  { id: 'shields', label: 'Shields and brackets', hint: 'Pushed by hand: does one rattle or touch?' },
  {
    id: 'tyre-swap',
    label: 'Tyres',
    hint: 'Wear pattern, pressure; swap front and rear: does the noise move?',
  },
];

export const CHECK_STATES = [
  { value: 'not-done', label: 'Not done' },
  { value: 'in-order', label: 'In order' },
  { value: 'fault-found', label: 'Fault found' },
] as const;

export const COMPLAINT: readonly { key: keyof Complaint; label: string; hint: string }[] = [
  {
    key: 'description',
    label: 'What is heard or felt',
    hint: 'In their own words: hum, knock, whine, rattle …',
  },
  { key: 'when', label: 'When', hint: 'Always, at times, since when?' },
  { key: 'speed', label: 'Speed', hint: 'For example: 60 to 80 km/h' },
  { key: 'load', label: 'Load', hint: 'Pulling, coasting, passengers on board?' },
  { key: 'gear', label: 'Gear', hint: 'In which gears, in neutral?' },
  { key: 'hotOrCold', label: 'Hot or cold', hint: 'From the start, or once warm?' },
  { key: 'recentWork', label: 'Recent work', hint: 'Tyres, bearings, clutch, anything taken apart?' },
];

export const OUTCOMES: readonly { value: Outcome; label: string; explanation: string }[] = [
  { value: 'reproduced', label: 'Noise was there', explanation: 'The noise was there and has been marked.' },
  {
    value: 'could-not-reproduce',
    label: 'Could not reproduce',
    explanation: 'It did not come. That is a result: the conditions tried are kept with the run.',
  },
  { value: 'aborted', label: 'Broken off', explanation: 'The run was broken off and says nothing.' },
];

export const VEHICLE: Record<VehicleQuantity, { name: string; unit: string; digits: number }> = {
  roadSpeedKmH: { name: 'Road speed', unit: 'km/h', digits: 0 },
  engineSpeedRpm: { name: 'Engine speed', unit: 'rpm', digits: 0 },
  turbineSpeedRpm: { name: 'Turbine speed', unit: 'rpm', digits: 0 },
  outputSpeedRpm: { name: 'Output speed', unit: 'rpm', digits: 0 },
  engineLoadPercent: { name: 'Engine load', unit: '%', digits: 0 },
  coolantTemperatureC: { name: 'Coolant', unit: '°C', digits: 0 },
  gear: { name: 'Gear', unit: '', digits: 0 },
};

const SOURCES: Record<string, string> = {
  button: 'button',
  key: 'space bar',
  node: 'node button',
  import: 'file',
};
export const sourceWords = (source: string): string => SOURCES[source] ?? source;

/** "2:05", "1:02:05". */
export function elapsed(ms: number): string {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  const two = (n: number) => String(n).padStart(2, '0');
  const [h, m, s] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}
