/** What a report comes to, in one sentence, and what to do next. Pure. */
import type { FindingRecord } from '../../contract/drive-train.ts';
import type { CompareResult } from '../../contract/inquiries.ts';
import type { Outcome } from '../../contract/runs.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import { isPart, verdictText } from '../../contract/words/findings.ts';
import { dateOf } from '../weeks/words.ts';

export interface Headline {
  result: string;
  next: string;
  /** Comes before everything else; null where nothing here takes control of the vehicle away. */
  safety: string | null;
}

export interface HeadlinePlace {
  /** As people say it, in lower case: "pinion bearing of the rear axle". */
  label: string;
  look: FindingRecord | null;
  trend: LocationTrend | null;
  /** Where its failure takes control of the vehicle away: what to do before anything else. */
  caution: string | null;
}

export interface HeadlineFacts {
  outcome: Outcome | null;
  /** Null for a report that is not of a run. */
  comparison: CompareResult | null;
  /** Why there is none, of a run. */
  comparisonMissing: string | null;
  /** The location that leads, else the one that is suspected most; null when none is. */
  suspect: HeadlinePlace | null;
  locations: number;
  /** When a watch plan says to measure again; null without one. */
  nextDueMs: number | null;
}

export function headline(facts: HeadlineFacts): Headline {
  const { suspect } = facts;
  const accused = suspect !== null && (leads(facts) || hasPart(suspect) || hasChanged(suspect));
  return {
    result: resultOf(facts),
    next: nextOf(facts),
    safety: accused && !isDone(facts) ? suspect.caution : null,
  };
}

const isDone = ({ outcome }: HeadlineFacts) => outcome === 'could-not-reproduce' || outcome === 'aborted';
const verdictOf = ({ comparison }: HeadlineFacts) => comparison?.comparison.verdict ?? null;
const leads = (facts: HeadlineFacts) => verdictOf(facts)?.kind === 'leads';
const hasPart = ({ look }: HeadlinePlace) => look !== null && isPart(look.verdict);
const hasChanged = ({ trend: of }: HeadlinePlace) =>
  of?.alerts.some(({ about, raised }) => about === 'change' && raised) === true;

function resultOf(facts: HeadlineFacts): string {
  const { outcome, suspect, locations } = facts;
  if (outcome === 'could-not-reproduce')
    return 'The noise did not come during this run, so its place is not known.';
  if (outcome === 'aborted') return 'The run was broken off and says nothing.';
  const verdict = verdictOf(facts);
  const part = suspect !== null && hasPart(suspect) ? partWords(suspect) : null;
  if (verdict?.kind === 'leads' && suspect !== null) {
    const [first = ''] = verdict.sentence.split('; ');
    const how = first.replace(/^.*? (leads|is largest) /, 'it $1 ').replace(/\.$/, '');
    const also = part === null ? '' : ` ${part}`;
    return `The noise most likely comes from the ${suspect.label}: ${how}.${also}`;
  }
  if (verdict !== null) {
    // One reason is enough here; all of them stand with the comparison.
    const [why = ''] = verdict.sentence.replace(/^Not clear: /, '').split(/; |\.? To settle it/);
    const unclear = `Not clear which location makes the noise: ${why.replace(/\.$/, '')}.`;
    // A comparison of one run that fails does not undo what weeks have shown.
    const shown = part ?? (suspect !== null && hasChanged(suspect) ? changeAt(suspect) : null);
    return shown === null ? unclear : `${unclear} ${shown}`;
  }
  if (part !== null) return part;
  if (suspect !== null && hasChanged(suspect)) return changeAt(suspect);
  const { comparisonMissing: why } = facts;
  if (why !== null)
    return `No location can be named in this run: ${why.charAt(0).toLowerCase()}${why.slice(1)}`;
  const where = locations === 1 ? 'the one location watched' : `any of the ${locations} locations watched`;
  return `Nothing has changed by more than its own scatter explains at ${where}.`;
}

function partWords({ label, look }: HeadlinePlace): string {
  const { verdict, bearing } = look!;
  return `${verdictText(verdict, bearing)} at the ${label}.`;
}

/** The first sentence of a trend says where it stands. */
function changeAt({ label, trend: of }: HeadlinePlace): string {
  const [first = ''] = of?.sentences ?? [];
  return `${capital(label)}: ${first.charAt(0).toLowerCase()}${first.slice(1)}`;
}

function nextOf(facts: HeadlineFacts): string {
  const { outcome, suspect, nextDueMs } = facts;
  const due = nextDueMs === null ? '' : ` The watch plan says to measure again by ${dateOf(nextDueMs)}.`;
  if (outcome === 'could-not-reproduce')
    return `Measure again under the conditions of the complaint: same speed, load and temperature, with who hears it on board.${due}`;
  if (outcome === 'aborted') return `Make the run again.${due}`;
  const verdict = verdictOf(facts);
  if (suspect !== null && (leads(facts) || hasPart(suspect))) {
    const first = hasPart(suspect)
      ? `Inspect the ${suspect.label} before anything is replaced: play and roughness by hand, metal in its oil or grease.`
      : `Check the ${suspect.label} first: play by hand, mounts, fluid, and what may touch it.`;
    return `${first} After the work make the same run again, to see that the noise is gone.${due}`;
  }
  if (verdict?.nextMeasurement) {
    const risen =
      suspect !== null && hasChanged(suspect)
        ? ` Look for the cause of the rise at the ${suspect.label}.`
        : '';
    return `${capital(verdict.nextMeasurement.text)}.${risen}${due}`;
  }
  if (suspect !== null && hasChanged(suspect))
    return `Look for the cause at the ${suspect.label}, and measure it again under the same conditions.${due}`;
  if (facts.comparisonMissing !== null)
    return `Record again with sensors at two locations or more, and mark the seconds with the noise.${due}`;
  return due === '' ? 'Go on measuring under the same conditions as before.' : due.trim();
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
