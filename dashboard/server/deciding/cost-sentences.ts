import type { trend } from '../../../collector/index.ts';
import type { DecisionFigures } from '../../contract/decisions.ts';
import { percent } from '../weeks/words.ts';

/** "1,490 EUR": whole units, for figures that nobody knows to the cent. */
const money = (value: number, currency = ''): string =>
  `${Math.round(value).toLocaleString('en')} ${currency}`.trim();

/** The cheapest option by the middle figures, and whether the ranges leave that open. */
export function costSentences(
  options: readonly trend.OptionCost[],
  { currency, keptMonths }: Pick<DecisionFigures, 'currency' | 'keptMonths'>,
): string[] {
  const [first, ...others] = [...options].sort((a, b) => a.expected.middle - b.expected.middle);
  if (first === undefined || others.length === 0) return [];
  const { low, middle, high } = first.expected;
  const range = low === high ? '' : ` (${money(low)} to ${money(high, currency)})`;
  const lead = `Over ${months(keptMonths)}, “${first.name}” has the lowest expected cost by these figures: ${money(middle, currency)}${range}.`;
  const open = others.filter(({ expected }) => expected.low <= high);
  const told =
    open.length === 0
      ? 'It stays the lowest wherever in its range each figure lies.'
      : `Its range overlaps that of ${open.map(({ name }) => `“${name}”`).join(' and ')}: these figures alone do not decide between them.`;
  return [lead, told];
}

export function breakEvenSentence(
  { waiting, acting, chance, always }: trend.BreakEven,
  believed: trend.Believed,
  keptMonths: number,
): string {
  if (chance === null) {
    const other = always === waiting ? acting : waiting;
    return `“${always}” costs less than “${other}” whatever the chance of a breakdown.`;
  }
  const { low, middle, high } = believed;
  const belief = low === high ? `${percent(middle)}` : `${percent(low)} to ${percent(high)}`;
  const where =
    high < chance
      ? 'which lies below it'
      : low > chance
        ? 'which lies above it'
        : 'which lies on both sides of it, so these figures do not decide';
  return `“${waiting}” costs less than “${acting}” while the chance of a breakdown within ${months(keptMonths)} is below ${percent(chance)}. Your figure is ${belief}, ${where}.`;
}

const months = (count: number): string => `${count} ${count === 1 ? 'month' : 'months'}`;
