import { gaussian, uniform } from '../../../collector/trend/random.ts';

/** First-order autoregression of standard deviation 1, as a source that goes on. */
export function autoregression(seed: number, lag1: number): () => number {
  const next = gaussian(uniform(seed));
  let value = next();
  return () => {
    value = lag1 * value + Math.sqrt(1 - lag1 * lag1) * next();
    return value;
  };
}

export function take<T>(count: number, source: (index: number) => T): T[] {
  return Array.from({ length: count }, (_, index) => source(index));
}

export const DAY_MS = 86_400_000;
