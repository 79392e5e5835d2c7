/** What a vehicle's diagnostic connector answers about itself: scaling of four values of SAE J1979 service 01. */

export type LiveQuantity = 'engineSpeedRpm' | 'roadSpeedKmH' | 'engineLoadPercent' | 'coolantTemperatureC';

export interface LiveValue {
  quantity: LiveQuantity;
  value: number;
  /** Smallest step the value can take, in its own unit. */
  resolution: number;
}

interface Scaling {
  quantity: LiveQuantity;
  bytes: number;
  resolution: number;
  decode: (a: number, b: number) => number;
}

/** Source: SAE J1979 (ISO 15031-5), service 01; formulas from memory, as they stand in open descriptions of it. */
const SCALINGS: Readonly<Record<number, Scaling>> = {
  4: { quantity: 'engineLoadPercent', bytes: 1, resolution: 100 / 255, decode: (a) => (a * 100) / 255 },
  5: { quantity: 'coolantTemperatureC', bytes: 1, resolution: 1, decode: (a) => a - 40 },
  12: { quantity: 'engineSpeedRpm', bytes: 2, resolution: 0.25, decode: (a, b) => (256 * a + b) / 4 },
  13: { quantity: 'roadSpeedKmH', bytes: 1, resolution: 1, decode: (a) => a },
};

/** 0x41: positive answer to service 01. 0x7F: refusal. */
const POSITIVE = 0x41;
const NEGATIVE = 0x7f;

/**
 * Decodes one answer to service 01: 0x41, then one or more parameter numbers, each followed by its bytes.
 *
 * @throws RangeError saying which byte is wrong and what to do
 */
export function decodeLiveData(answer: Uint8Array): LiveValue[] {
  if (answer.length === 0) throw new RangeError('live data: the answer is empty; ask the vehicle again');
  if (answer[0] === NEGATIVE) {
    throw new RangeError(
      `live data: the vehicle refused the question (${hex(answer)}); it may not know this value`,
    );
  }
  if (answer[0] !== POSITIVE) {
    throw new RangeError(
      `live data: byte 1 is ${hex(answer.subarray(0, 1))}, an answer to service 01 begins with 41; send the answer without the bus header`,
    );
  }
  if (answer.length < 2)
    throw new RangeError('live data: the answer ends after 41; the parameter number is missing');
  const values: LiveValue[] = [];
  for (let at = 1; at < answer.length; ) {
    const pid = answer[at]!;
    const scaling = SCALINGS[pid];
    if (scaling === undefined) {
      throw new RangeError(
        `live data: byte ${at + 1} is parameter ${hex(answer.subarray(at, at + 1))}, known are 04, 05, 0C and 0D; leave others out`,
      );
    }
    const data = answer.subarray(at + 1, at + 1 + scaling.bytes);
    if (data.length < scaling.bytes) {
      throw new RangeError(
        `live data: parameter ${hex(answer.subarray(at, at + 1))} needs ${scaling.bytes} byte(s), the answer holds ${data.length}`,
      );
    }
    const { quantity, resolution, decode } = scaling;
    values.push({ quantity, value: decode(data[0]!, data[1] ?? 0), resolution });
    at += 1 + scaling.bytes;
  }
  return values;
}

/**
 * The same from text as adapters write it: "41 0C 1A F8" or "410C1AF8", in either case.
 *
 * @throws RangeError where the text is no row of hexadecimal bytes
 */
export function decodeLiveDataText(text: string): LiveValue[] {
  const digits = text.replace(/\s+/g, '');
  if (!/^([0-9a-f]{2})+$/i.test(digits)) {
    throw new RangeError(
      `live data: "${text.slice(0, 40)}" is not a row of hexadecimal bytes such as "41 0C 1A F8"`,
    );
  }
  return decodeLiveData(Uint8Array.from(digits.match(/../g)!, (byte) => Number.parseInt(byte, 16)));
}

function hex(bytes: Uint8Array): string {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0').toUpperCase()).join(' ');
}
