/**
 * Evaluation zones of broad-band vibration severity, 10-1000 Hz velocity RMS.
 *
 * Both standards are superseded by parts of ISO 20816, and the numbers here come from secondary texts or from
 * memory, not from the standards themselves. They were made for stationary machines at steady speed: anywhere
 * else (on a vehicle) a zone only screens, and the change against the own baseline leads.
 */
export type Zone = 'A' | 'B' | 'C' | 'D';

/** Upper limits of zones A, B and C, mm/s. A value on a limit still belongs to the lower zone (our choice). */
export type ZoneLimits = readonly [number, number, number];

/** ISO 10816-1:1995 Annex B, from secondary texts. */
const ISO_10816_1 = {
  /** Small machines, motors up to 15 kW. */
  I: [0.71, 1.8, 4.5],
  /** Medium machines, 15 to 75 kW, or up to 300 kW on special foundations. */
  II: [1.12, 2.8, 7.1],
  /** Large machines on rigid and heavy foundations. */
  III: [1.8, 4.5, 11.2],
  /** Large machines on soft foundations. */
  IV: [2.8, 7.1, 18],
} as const satisfies Record<string, ZoneLimits>;

/** ISO 10816-3:1998 groups 1 (over 300 kW) and 2 (15 to 300 kW), from memory. */
const ISO_10816_3 = {
  'group-1-rigid': [2.3, 4.5, 7.1],
  'group-1-flexible': [3.5, 7.1, 11],
  'group-2-rigid': [1.4, 2.8, 4.5],
  'group-2-flexible': [2.3, 4.5, 7.1],
} as const satisfies Record<string, ZoneLimits>;

const LIMITS = { ...ISO_10816_1, ...ISO_10816_3 };

export type MachineClass = keyof typeof LIMITS;

export const MACHINE_CLASSES = Object.keys(LIMITS) as MachineClass[];

export function zoneLimitsMmPerS(machineClass: MachineClass): ZoneLimits {
  return LIMITS[machineClass];
}

/** @throws RangeError when the value is no velocity RMS */
export function zoneOf(velocityRmsMmPerS: number, machineClass: MachineClass): Zone {
  if (!(velocityRmsMmPerS >= 0))
    throw new RangeError(`velocity RMS ${velocityRmsMmPerS} mm/s is not a level`);
  const [a, b, c] = LIMITS[machineClass];
  if (velocityRmsMmPerS <= a) return 'A';
  if (velocityRmsMmPerS <= b) return 'B';
  return velocityRmsMmPerS <= c ? 'C' : 'D';
}

/**
 * The change of velocity RMS, up or down, that counts as significant: 25 % of the upper limit of zone B, as in
 * ISO 10816-1 and 20816-1 (from memory). For lift, bench and stationary machines, not for road runs.
 */
export function significantChangeMmPerS(machineClass: MachineClass): number {
  return 0.25 * LIMITS[machineClass][1];
}
