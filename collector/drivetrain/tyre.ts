/** Rolling circumference of a radial tyre over its free diameter (ETRTO rule, from memory); wear takes up to 3 %. */
const CIRCUMFERENCE_PER_DIAMETER = 3.05;

/**
 * Rolling circumference in metres from the size on the side wall, e.g. "205/65 R16" or "195/75R16C 107/105R":
 * width mm / height as per cent of the width / rim diameter in inches.
 * @throws RangeError when the text holds no such size.
 */
export function tyreCircumferenceM(size: string): number {
  const match = /(\d{3})\s*\/\s*(\d{2,3})\s*Z?R\s*(\d{2}(?:\.5)?)/i.exec(size);
  if (match === null) {
    throw new RangeError(`"${size}" is not a tyre size: write it as on the side wall, e.g. 205/65 R16`);
  }
  const [width, height, rim] = [Number(match[1]), Number(match[2]), Number(match[3])];
  const diameterMm = rim * 25.4 + (2 * width * height) / 100;
  return (CIRCUMFERENCE_PER_DIAMETER * diameterMm) / 1000;
}

/** Turns of the wheel per second at a road speed. */
export function wheelHz(speedKmPerH: number, circumferenceM: number): number {
  return speedKmPerH / 3.6 / circumferenceM;
}
