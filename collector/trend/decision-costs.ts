/**
 * What does each way to go on cost? Expected cost and its range over the time the asset is kept, from the user's own
 * figures. No price, chance or period is built in, and no advice on what to accept: only the arithmetic, laid open.
 */

import { DO_NOT_DEFER, doNotDefer, type SafetyQuestion } from './safety.ts';

/** A figure somebody believes in: the middle and how far it may be off to either side. */
export interface Believed {
  low: number;
  middle: number;
  high: number;
}

export interface Option {
  name: string;
  /** Parts or exchange unit, and labour, paid at once. Nothing for waiting. */
  parts: Believed;
  labourHours: Believed;
  /** Other costs of doing it: a day off the road, transport. */
  besides: Believed;
  /** Chance, 0 to 1, that this location breaks down on the road within the kept period when this option is taken. */
  breakdownChance: Believed;
  /** Guarantee that comes with it; null for none. */
  warranty: { months: number; distanceKm: number | null } | null;
  /** Chance that a repair is due later in the kept period without a breakdown, as for waiting. */
  laterRepairChance: Believed;
}

export interface CostQuestion {
  options: Option[];
  labourPerHour: Believed;
  keptMonths: number;
  usePerYearKm: number;
  /** A breakdown on the road beyond the repair itself: recovery, hire, lost work, what it takes with it. */
  breakdownBesides: Believed;
  /** The repair that a breakdown makes necessary, and the one that is due later: parts and labour together. */
  repairAfterBreakdown: Believed;
  laterRepair: Believed;
  /** Kind of location and of findings on it, for the safety rule. */
  safety: SafetyQuestion;
}

export interface OptionCost {
  name: string;
  atOnce: Believed;
  /** Over the kept period: all figures at their low, middle and high end. */
  expected: Believed;
  /** What is paid when nothing happens, and when it breaks down (middle figures). */
  withoutBreakdown: number;
  withBreakdown: number;
  /** Part of the kept period that the guarantee covers, 0 to 1. */
  coveredShare: number;
}

export interface BreakEven {
  /** Option that is cheaper below the chance, and option that is cheaper above it. */
  waiting: string;
  acting: string;
  /**
   * Chance of a breakdown when waiting at which both cost the same (middle figures). Null when one of them is cheaper
   * at every chance; `always` names it.
   */
  chance: number | null;
  always: string | null;
}

export interface CostAnswer {
  doNotDefer: boolean;
  caution: string | null;
  options: OptionCost[];
}

/**
 * Expected cost of an option = paid at once
 *   + chance of a breakdown x (besides + repair x part of the period not under guarantee)
 *   + chance of a later repair x its price x part not under guarantee.
 *
 * Assumes that a failure comes equally likely at any time of the kept period; a guarantee pays the repair, never what a
 * breakdown costs besides; and prices of today (no interest). Chance of breakdown and of later repair exclude each
 * other, so their sum must not exceed 1.
 *
 * @throws RangeError naming the option and figure that cannot be used
 */
export function decisionCosts(question: CostQuestion): CostAnswer {
  check(question);
  const deferring = doNotDefer(question.safety);
  return {
    doNotDefer: deferring,
    caution: deferring ? DO_NOT_DEFER : null,
    options: question.options.map((option) => optionCost(option, question)),
  };
}

function optionCost(option: Option, question: CostQuestion): OptionCost {
  const coveredShare = covered(option, question);
  const open = 1 - coveredShare;
  const at = (end: keyof Believed) => {
    const atOnce =
      option.parts[end] + option.labourHours[end] * question.labourPerHour[end] + option.besides[end];
    const breakdown = question.breakdownBesides[end] + open * question.repairAfterBreakdown[end];
    const later = open * question.laterRepair[end];
    const expected = atOnce + option.breakdownChance[end] * breakdown + option.laterRepairChance[end] * later;
    return { atOnce, breakdown, expected };
  };
  const [low, middle, high] = [at('low'), at('middle'), at('high')];
  return {
    name: option.name,
    atOnce: { low: low.atOnce, middle: middle.atOnce, high: high.atOnce },
    expected: { low: low.expected, middle: middle.expected, high: high.expected },
    withoutBreakdown: middle.atOnce,
    withBreakdown: middle.atOnce + middle.breakdown,
    coveredShare,
  };
}

/** Part of the kept period under guarantee: by months or by distance, whichever ends first. */
function covered({ warranty }: Option, { keptMonths, usePerYearKm }: CostQuestion): number {
  if (warranty === null) return 0;
  const months =
    warranty.distanceKm === null || usePerYearKm === 0
      ? warranty.months
      : Math.min(warranty.months, (12 * warranty.distanceKm) / usePerYearKm);
  return Math.min(1, months / keptMonths);
}

/**
 * From which chance of a breakdown on does acting cost less than waiting? Both costs are straight lines over the chance
 * of a breakdown when waiting, the acting one level: the break-even is where they cross. The chance of a later repair
 * when waiting is kept as it is.
 */
export function breakEven(question: CostQuestion, waitingName: string, actingName: string): BreakEven {
  check(question);
  const find = (name: string) => {
    const option = question.options.find((entry) => entry.name === name);
    if (option === undefined) throw new RangeError(`no option named "${name}" among those asked about`);
    return option;
  };
  const [waiting, acting] = [find(waitingName), find(actingName)];
  const at = (chance: number) => {
    const fixed = { ...waiting, breakdownChance: { low: chance, middle: chance, high: chance } };
    return optionCost(fixed, question).expected.middle;
  };
  const goal = optionCost(acting, question).expected.middle;
  const most = 1 - waiting.laterRepairChance.middle;
  const frame = { waiting: waitingName, acting: actingName };
  if (at(0) >= goal) return { ...frame, chance: null, always: actingName };
  if (at(most) <= goal) return { ...frame, chance: null, always: waitingName };
  return { ...frame, chance: (goal - at(0)) / (at(1) - at(0)), always: null };
}

function check(question: CostQuestion): void {
  const fail = (what: string): never => {
    throw new RangeError(`${what}; correct the figure and ask again`);
  };
  const ordered = (where: string, { low, middle, high }: Believed, most = Number.POSITIVE_INFINITY) => {
    if (!(low >= 0 && low <= middle && middle <= high && high <= most && Number.isFinite(high))) {
      const bound = most === 1 ? 'between 0 and 1' : '0 or more';
      fail(`${where}: low, middle and high must rise and be ${bound}, got ${low}, ${middle}, ${high}`);
    }
  };
  if (!(question.keptMonths > 0)) fail(`kept period must be more than 0 months, got ${question.keptMonths}`);
  if (!(question.usePerYearKm >= 0)) fail(`use per year must be 0 km or more, got ${question.usePerYearKm}`);
  for (const key of ['labourPerHour', 'breakdownBesides', 'repairAfterBreakdown', 'laterRepair'] as const) {
    ordered(key, question[key]);
  }
  for (const option of question.options) {
    for (const key of ['parts', 'labourHours', 'besides'] as const)
      ordered(`${option.name}: ${key}`, option[key]);
    for (const key of ['breakdownChance', 'laterRepairChance'] as const) {
      ordered(`${option.name}: ${key}`, option[key], 1);
    }
    if (option.breakdownChance.high + option.laterRepairChance.high > 1) {
      fail(`${option.name}: chances of breakdown and of a later repair add up to more than 1`);
    }
  }
}
