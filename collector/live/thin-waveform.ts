/**
 * At most `points` values for a screen: the smallest and the largest of each equal stretch, in the order in
 * which they occur, so that no peak is lost. A short signal is returned as it is.
 */
export function thinByExtremes(samples: Float64Array, points: number): number[] {
  const count = samples.length;
  if (count <= points) return Array.from(samples);
  const stretches = Math.floor(points / 2);
  const thinned: number[] = [];
  for (let stretch = 0; stretch < stretches; stretch++) {
    const from = Math.floor((stretch * count) / stretches);
    const to = Math.floor(((stretch + 1) * count) / stretches);
    let low = from;
    let high = from;
    for (let i = from + 1; i < to; i++) {
      if (samples[i]! < samples[low]!) low = i;
      if (samples[i]! > samples[high]!) high = i;
    }
    thinned.push(samples[Math.min(low, high)]!, samples[Math.max(low, high)]!);
  }
  return thinned;
}
