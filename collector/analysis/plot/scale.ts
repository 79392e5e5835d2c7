/** Round numbers for an axis from 0 to `top`: steps of 1, 2 or 5 times a power of ten, at most `most` of them. */
export function linearTicks(top: number, most: number): number[] {
  if (!(top > 0)) return [0];
  const rough = top / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((candidate) => candidate >= rough * (1 - 1e-9))!;
  return Array.from({ length: Math.floor(top / step + 1e-9) + 1 }, (_, k) =>
    Number((k * step).toPrecision(12)),
  );
}

/** Powers of ten from `low` to `high`. */
export function decadeTicks(low: number, high: number): number[] {
  const first = Math.ceil(Math.log10(low) - 1e-9);
  const last = Math.floor(Math.log10(high) + 1e-9);
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, k) => 10 ** (first + k));
}

/** A number short enough for an axis. */
export function tickText(value: number): string {
  if (value === 0) return '0';
  return Math.abs(value) >= 1e5 || Math.abs(value) < 1e-3
    ? value.toExponential(0)
    : `${Number(value.toPrecision(4))}`;
}
