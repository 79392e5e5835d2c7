import type { AxisName } from '../../firmware-protocol/index.ts';
import type { CaptureStretch } from '../capture/capture.ts';

/** The axis with the most power beside its mean, over all stretches of a place. */
export function strongestAxis(stretches: readonly CaptureStretch[]): AxisName {
  const powers = new Map<AxisName, number>();
  for (const { axes, samples } of stretches) {
    for (const [i, axis] of axes.entries()) {
      let [sum, squares] = [0, 0];
      for (const value of samples[i]!) {
        sum += value;
        squares += value * value;
      }
      powers.set(axis, (powers.get(axis) ?? 0) + squares - (sum * sum) / samples[i]!.length);
    }
  }
  return [...powers].sort((a, b) => b[1] - a[1])[0]![0];
}
