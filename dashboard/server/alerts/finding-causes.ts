import { trend } from '../../../collector/index.ts';
import type { FindingRecord } from '../../contract/drive-train.ts';
import type { Cause } from '../records/alerts.ts';

/** Two looks at nearly the same samples are one. */
const LEAST_APART_MS = 300_000;
/** Looks are made at most every ten minutes. */
const MOST_LOOKS_PER_YEAR = 52_560;
/** One look resembles the one before. As for runs; common practice, no source. */
const LOOK_LAG1 = 0.3;
const YEAR_MS = 365.25 * 86_400_000;

const PARTS: Record<string, string> = {
  outer: 'outer race',
  inner: 'inner race',
  ball: 'rolling element',
  cage: 'cage',
};

interface Chain {
  state: trend.AlertState;
  /** Largest chance, from noise, that the looks in which it showed have stated. */
  chance: number;
  frequencyHz: number;
  seenMs: number;
  detail: string;
}

/** How far the looks at one location have been followed. Plain data, kept from look to look. */
export interface FollowedLooks {
  firstMs: number;
  lastMs: number;
  count: number;
  chains: Record<string, Chain>;
}

/** One look further. Looks at a speed that somebody tried out, and looks at the same samples again, do not count. */
export function takeLook(before: FollowedLooks | null, look: FindingRecord): FollowedLooks | null {
  if (look.speedSource === 'typed') return before;
  if (before !== null && look.startMs < before.lastMs + LEAST_APART_MS) return before;
  const chains: Record<string, Chain> = {};
  const shows = look.verdict in PARTS;
  const verdicts = new Set([...Object.keys(before?.chains ?? {}), ...(shows ? [look.verdict] : [])]);
  for (const verdict of verdicts) {
    const known = before?.chains[verdict];
    const observed = look.verdict === verdict ? 'above' : look.verdict === 'none' ? 'below' : 'between';
    const { state } = trend.stepAlert(
      known?.state ?? trend.QUIET,
      observed,
      look.startMs,
      trend.FINDING_RULE,
    );
    const isOver = !state.raised && !state.recent.some(Boolean);
    if (isOver) continue;
    if (observed === 'above') chains[verdict] = { ...shown(look, known?.chance ?? 0), state };
    else chains[verdict] = { ...known!, state };
  }
  return {
    firstMs: before?.firstMs ?? look.startMs,
    lastMs: look.startMs,
    count: (before?.count ?? 0) + 1,
    chains,
  };
}

function shown(look: FindingRecord, chance: number): Omit<Chain, 'state'> {
  const found = look.findings.find(({ kind }) => kind === look.verdict);
  const of = look.bearing === null ? '' : ` of bearing ${look.bearing}`;
  return {
    chance: Math.max(chance, found?.falseAlarmProbability ?? 0),
    frequencyHz: found?.frequencyHz ?? 0,
    seenMs: look.startMs,
    detail: `${PARTS[look.verdict]}${of}`,
  };
}

/** What the looks at a location come to now. */
export function findingCauses(
  looks: FollowedLooks | null,
  place: { locationId: number; assetId: number },
): Cause[] {
  if (looks === null) return [];
  return Object.entries(looks.chains).flatMap(([verdict, { state, ...chain }]) =>
    state.raised
      ? [
          {
            key: `${findingScope(place.locationId)}${verdict}`,
            about: 'finding' as const,
            ...place,
            nodeId: null,
            quantity: null,
            detail: chain.detail,
            value: chain.frequencyHz,
            limit: null,
            unit: 'Hz',
            falseAlarmsPerYear: trend.falseFindingsPerYear(
              chain.chance,
              looksPerYear(looks),
              trend.FINDING_RULE,
              LOOK_LAG1,
            ),
            sinceMs: state.sinceMs ?? chain.seenMs,
            seenMs: chain.seenMs,
          },
        ]
      : [],
  );
}

export const findingScope = (locationId: number): string => `finding/${locationId}/`;

function looksPerYear({ firstMs, lastMs, count }: FollowedLooks): number {
  const spanMs = lastMs - firstMs;
  // Of the first day's looks nobody can tell how the year will be: as many as can come, then.
  if (spanMs < 86_400_000) return MOST_LOOKS_PER_YEAR;
  return Math.min(MOST_LOOKS_PER_YEAR, Math.ceil(((count - 1) * YEAR_MS) / spanMs));
}
