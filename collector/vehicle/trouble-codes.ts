/** Stored trouble codes as supporting evidence: what the standard's generic meaning of a code hints at. */

export interface TroubleCodeNote {
  code: string;
  /** The standard's generic meaning; null where none is kept here. */
  meaning: string | null;
  /** What it may support. Never a verdict: a code names the circuit that noticed, not the part that failed. */
  supports: string | null;
  provenance: string;
}

const GEAR_RATIO = 'gear ratio';
const LOCK_UP = 'lock-up clutch of the torque converter';

/** SAE J2012 (ISO 15031-6) generic meanings, from memory. */
const MEANINGS: Readonly<Record<string, [meaning: string, family: string]>> = {
  P0730: ['Incorrect gear ratio', GEAR_RATIO],
  P0731: ['Gear 1 incorrect ratio', GEAR_RATIO],
  P0732: ['Gear 2 incorrect ratio', GEAR_RATIO],
  P0733: ['Gear 3 incorrect ratio', GEAR_RATIO],
  P0734: ['Gear 4 incorrect ratio', GEAR_RATIO],
  P0735: ['Gear 5 incorrect ratio', GEAR_RATIO],
  P0736: ['Reverse incorrect ratio', GEAR_RATIO],
  P0740: ['Torque converter clutch circuit malfunction', LOCK_UP],
  P0741: ['Torque converter clutch circuit performance or stuck off', LOCK_UP],
  P0742: ['Torque converter clutch circuit stuck on', LOCK_UP],
  P0743: ['Torque converter clutch circuit electrical', LOCK_UP],
  P0744: ['Torque converter clutch circuit intermittent', LOCK_UP],
};

const SUPPORTS: Readonly<Record<string, string>> = {
  [GEAR_RATIO]:
    'input and output speed did not fit the gear: a slipping clutch or band, low fluid, or a speed sensor; compare with the measured clutch slip',
  [LOCK_UP]:
    'the lock-up clutch did not do as told: solenoid, valve body, wiring or the clutch; compare with the measured converter slip',
};

/**
 * What a code supports. Codes of other families, and makers' own codes (P1xxx and so on), are kept with no meaning.
 *
 * @throws RangeError when the text is no trouble code
 */
export function troubleCodeNote(text: string): TroubleCodeNote {
  const code = text.trim().toUpperCase();
  if (!/^[PCBU][0-3][0-9A-F]{3}$/.test(code)) {
    throw new RangeError(
      `"${text.slice(0, 20)}" is no trouble code; they have a letter P, C, B or U and four digits: P0741`,
    );
  }
  const known = MEANINGS[code];
  if (known !== undefined) {
    return {
      code,
      meaning: known[0],
      supports: SUPPORTS[known[1]]!,
      provenance: 'SAE J2012 generic meaning, from memory',
    };
  }
  const makers = /^[PCBU]1/.test(code);
  return {
    code,
    meaning: null,
    supports: null,
    provenance: makers ? "maker's own code: see the maker's list" : 'no meaning kept here: see SAE J2012',
  };
}
