import type { Alert } from '../../contract/alerts.ts';
import type { TrendValue } from '../../contract/model.ts';
import type { AlertRecord } from '../records/alerts.ts';
import { level } from '../weeks/words.ts';

export interface Named {
  assetName: string | null;
  assetKind: 'vehicle' | 'machine' | null;
  location: string | null;
  component: string | null;
  nodeLabel: string | null;
  /** Of a place where waiting is not to be weighed. */
  caution: string | null;
}

const QUANTITIES: Record<TrendValue, string> = {
  velocityRmsMmPerS: 'velocity RMS',
  accelerationRmsMPerS2: 'acceleration RMS',
  accelerationPeakMPerS2: 'acceleration peak',
  crestFactor: 'crest factor',
  kurtosis: 'kurtosis',
};

/** An alert in words: what it is, what it means and what to do, how often it would come for nothing, and cautions. */
export function alertWords(
  alert: AlertRecord,
  named: Named,
): Pick<Alert, 'title' | 'meaning' | 'rate' | 'caution'> {
  return {
    title: `${placeOf(named)}: ${happened(alert)}`,
    meaning: meaning(alert, named),
    rate: rateWords(alert),
    caution: alert.about === 'node-quiet' || alert.about === 'run-overdue' ? null : named.caution,
  };
}

function placeOf({ assetName, location, nodeLabel }: Named): string {
  return [assetName, location ?? nodeLabel].filter((part) => part !== null).join(', ') || 'Station';
}

const amount = (value: number | null, unit: string) =>
  value === null
    ? 'an unknown level'
    : unit === 'ratio'
      ? `${level(value)} times its baseline`
      : `${level(value)} ${unit}`.trim();

/** What is so, without the place: "velocity RMS has risen to 1.4 times its baseline". */
export function happened({ about, quantity, detail, value, unit }: AlertRecord): string {
  const name = quantity === null ? 'the level' : QUANTITIES[quantity];
  switch (about) {
    case 'change':
      return `${name} has risen to ${amount(value, unit)}`;
    case 'zone':
      return `${name} of ${amount(value, unit)}, beyond the zone boundary ${detail}`;
    case 'finding':
      return `the line of the ${detail} stands out`;
    case 'node-quiet':
      return 'nothing is heard of the sensor board';
    case 'run-overdue':
      return 'the measurement agreed in the watch plan is overdue';
    case 'stop-limit':
      return 'a limit of the watch plan is reached';
  }
}

const ZONES: Record<string, string> = {
  'B/C': 'Beyond it a machine is not fit for long continuous running: plan a repair.',
  'C/D': 'Beyond it vibration is severe enough to cause damage: stop the machine until it was inspected.',
};

function meaning({ about, detail, limit, unit, value }: AlertRecord, { assetKind }: Named): string {
  const run = assetKind === 'machine' ? 'day' : 'run';
  switch (about) {
    case 'change':
      return (
        `Two of three ${run}s in a row lay above the limit of ${amount(limit, unit)}. Each ${run} was compared only ` +
        `with ${run}s under the same conditions on the same mount. Look at the trend and listen to the place, then ` +
        'have the part looked at.'
      );
    case 'zone':
      return (
        `Two of three ${run}s in a row lay above ${amount(limit, unit)}. ` +
        `${ZONES[detail] ?? ''} Zone boundaries here are from secondary texts.`
      );
    case 'finding':
      return (
        `At least three of four looks, minutes apart, agree on it${value === null ? '' : ` (${level(value)} Hz)`}. ` +
        'See the findings of the location for what else it could be. A finding is a reason to look at the part, not a ' +
        'verdict on it.'
      );
    case 'node-quiet':
      return (
        `Nothing has come for more than ${hours(limit)}: nobody is watching this place now. Check power, cable and ` +
        'network of the sensor board. That no alert comes means nothing meanwhile.'
      );
    case 'run-overdue':
      return (
        `The plan asks for a measurement every ${level(limit ?? 0)} days. The wait was agreed on only because it is ` +
        'watched: measure now, or end the plan.'
      );
    case 'stop-limit':
      return `${detail} The plan says that the waiting ends here: do what was agreed.`;
  }
}

function hours(limit: number | null): string {
  if (limit === null) return 'it may';
  return limit < 2 ? `${Math.round(60 * limit)} minutes` : `${level(limit)} hours`;
}

/** Rarer rates rest on the form of a tail that nobody has seen. */
const RAREST_PER_YEAR = 0.01;

/** "About once in 12 years from a machine on which nothing has changed." */
function rateWords({ about, falseAlarmsPerYear: rate }: AlertRecord): string {
  if (about === 'node-quiet' || about === 'run-overdue' || about === 'stop-limit')
    return 'Chance plays no part in it.';
  if (rate === null) return 'The baseline itself lies above the limit: this is no false alarm by chance.';
  const from = about === 'finding' ? 'from noise alone' : 'from a machine on which nothing has changed';
  if (rate < RAREST_PER_YEAR) return `Less than once in a hundred years ${from}.`;
  if (rate > 1.5) return `About ${Math.round(rate)} times a year ${from}.`;
  const years = Math.round(1 / rate);
  return years <= 1 ? `About once a year ${from}.` : `About once in ${years} years ${from}.`;
}
