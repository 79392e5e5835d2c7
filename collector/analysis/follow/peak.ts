import type { BlockOrders } from './block-orders.ts';

/**
 * Evidence is capped, so a strong line is a plateau, made uneven by what crosses it: the line is where the power is,
 * up the slope from the plateau's own highest place.
 */
export function highestOfPlateau(orders: BlockOrders, sums: Float64Array, first: number): number {
  const power = (line: number) => powerAt(orders, line);
  let last = first;
  while (last + 1 < sums.length && sums[last + 1]! >= sums[first]! - 1e-9) last++;
  let line = first;
  for (let k = first + 1; k <= last; k++) if (power(k) > power(line)) line = k;
  while (line + 2 < sums.length && power(line + 1) > power(line)) line++;
  while (line > 4 && power(line - 1) > power(line)) line--;
  return line;
}

/** Power of a line over all blocks. */
function powerAt({ amplitudeRms }: BlockOrders, line: number): number {
  let sum = 0;
  for (const row of amplitudeRms) sum += (row[line] ?? 0) ** 2;
  return sum;
}

/** Where between two lines the peak lies: a parabola through the logarithm of the summed power. */
export function offsetOf(orders: BlockOrders, line: number): number {
  const [below, peak, above] = [-1, 0, 1].map((d) => Math.log(powerAt(orders, line + d) + 1e-300)) as [
    number,
    number,
    number,
  ];
  const curve = below - 2 * peak + above;
  return curve < 0 ? Math.max(-0.5, Math.min(0.5, (below - above) / (2 * curve))) : 0;
}
