import type { trend } from '../../../collector/index.ts';

/** People name locations freely; these words in a name or component say what would fail. Common practice, no source. */
const WORDS: readonly [RegExp, trend.LocationKind][] = [
  [/\bwheel\b.*\b(bearing|hub)|\bhub\b|\bwheel carrier\b|\bknuckle\b/i, 'wheel-bearing'],
  [/\bsteer|\btie rod\b|\btrack rod\b|\brack\b/i, 'steering'],
  [/\bbrakes?\b|\bcaliper\b|\bbrake disc\b/i, 'brake'],
  [
    /\bframe\b|\bsubframe\b|\bchassis\b|\bsuspension\b|\bcontrol arm\b|\bball joint\b|\bspring\b/i,
    'structural',
  ],
];

/** What a location's failure would mean, as far as its name tells. */
export function kindOfPlace({ name, component }: { name: string; component: string }): trend.LocationKind {
  const text = `${component} ${name}`;
  return WORDS.find(([words]) => words.test(text))?.[1] ?? 'other';
}
