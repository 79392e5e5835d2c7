import { trend } from '../../../collector/index.ts';
import type { DecisionSupport, PartKind } from '../../contract/decisions.ts';
import type { FindingRecord } from '../../contract/drive-train.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import { findingSentence, verdictText } from '../../contract/words/findings.ts';
import { openChanges } from '../alerts/open-changes.ts';
import { happened } from '../alerts/words.ts';
import type { LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import { trendSentences } from '../weeks/sentences.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import { dateOf } from '../weeks/words.ts';
import { safetyWith } from './costs.ts';

const MONTH_MS = (365.25 / 12) * 86_400_000;

interface Deps {
  records: RecordStore;
  trends: Trends;
  now(): number;
}

/** What the measurements at a location say for a decision, and what they do not. */
export async function decisionSupport(
  { records, trends, now }: Deps,
  location: LocationRecord,
  { keptMonths, part }: { keptMonths?: number; part?: PartKind },
): Promise<DecisionSupport> {
  const followed = await trends.of(location.id);
  const newest = records.findings.list(location.id, 1)[0] ?? null;
  const safety = safetyWith(records, location, part);
  const told = [safety.location, ...safety.findings].find((kind) =>
    trend.doNotDefer({ location: kind, findings: [] }),
  );
  const horizonMs = keptMonths === undefined ? null : now() + keptMonths * MONTH_MS;
  const of = [
    trendSide(followed, now(), horizonMs),
    alertSide(records, location, followed),
    findingSide(newest),
  ];
  return {
    caution: trend.doNotDefer(safety) ? trend.DO_NOT_DEFER : null,
    part: told ?? part ?? safety.location,
    supports: of.flatMap(({ supports }) => supports),
    cannotSay: [
      ...of.flatMap(({ cannotSay }) => cannotSay),
      'The chance of a breakdown: no vibration level gives one. The chance in the figures is what somebody believes.',
      'That the part is sound: a low level is no proof of it.',
    ],
  };
}

interface Side {
  supports: string[];
  cannotSay: string[];
}

function trendSide(followed: LocationTrend, nowMs: number, horizonMs: number | null): Side {
  const { baseline, forecast } = followed;
  const sentences = trendSentences(followed, nowMs);
  // Said first: where it stands, or why that is not known. Said last: what lies ahead, or why that is not known.
  const isOpen = (index: number) =>
    (index === 0 && !baseline.known) ||
    (index === sentences.length - 1 && forecast?.kind === 'cannot-say-yet');
  const side: Side = {
    supports: sentences.filter((_, index) => !isOpen(index)),
    cannotSay: sentences.filter((_, index) => isOpen(index)),
  };
  if (forecast?.kind === 'range') {
    if (horizonMs !== null)
      side.supports.push(
        forecast.fromMs > horizonMs
          ? `By the forecast the limit is not reached within the kept period, which ends ${dateOf(horizonMs)}.`
          : forecast.toMs < horizonMs
            ? `By the forecast the limit is reached well within the kept period, which ends ${dateOf(horizonMs)}.`
            : `By the forecast the limit may or may not be reached within the kept period, which ends ${dateOf(horizonMs)}.`,
      );
    side.cannotSay.push('How long the part lasts once the limit is reached: the limit is not the breakdown.');
  }
  return side;
}

/** What else has changed here: the trend above is of one value, and damage may show in another first. */
function alertSide(records: RecordStore, { id, assetId }: LocationRecord, { value }: LocationTrend): Side {
  const told = openChanges(records, assetId)
    .filter(({ locationId, quantity }) => locationId === id && quantity !== value)
    .map((alert) => `An alert stands since ${dateOf(alert.sinceMs)}: ${happened(alert)}.`);
  return { supports: told, cannotSay: [] };
}

function findingSide(look: FindingRecord | null): Side {
  if (look === null)
    return {
      supports: [],
      cannotSay: ['Which part it is: nobody has looked into the samples of this location yet.'],
    };
  const { verdict, bearing, reason, findings, atMs } = look;
  const when = `Looked at on ${dateOf(atMs)}`;
  const words = verdictText(verdict, bearing);
  if (verdict === 'not-clear' || verdict === 'not-covered')
    return {
      supports: [],
      cannotSay: [`Which part it is. ${when}: ${words.toLowerCase()}. ${sentence(reason)}`.trim()],
    };
  const line = findings[0] === undefined ? '' : ` ${findingSentence(findings[0], bearing)}`;
  if (verdict === 'none')
    return {
      supports: [`${when}: ${words.toLowerCase()}.${line}`],
      cannotSay: [
        'That no part is damaged: what the sensor’s band does not reach, or what is still small, does not stand out.',
      ],
    };
  return {
    supports: [`${when}: ${words}.${line}`],
    cannotSay: ['How large the damage is: a line’s size also depends on path, load and speed.'],
  };
}

const sentence = (text: string): string =>
  text === '' ? '' : `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
