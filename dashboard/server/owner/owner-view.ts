import { trend } from '../../../collector/index.ts';
import type { OwnerView } from '../../contract/owner.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import { isPart, verdictText } from '../../contract/words/findings.ts';
import { openChanges } from '../alerts/open-changes.ts';
import { happened } from '../alerts/words.ts';
import { safetyCaution } from '../deciding/part-kind.ts';
import type { AssetRecord, LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import { placeNames } from '../runs/sources.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import { type Standing, standingOfTrend } from './how-much.ts';
import { type NextStep, nextStep } from './next-step.ts';

export interface OwnerDeps {
  records: RecordStore;
  trends: Trends;
  now(): number;
}

export interface OwnedPlace {
  location: LocationRecord;
  /** "output bearing of the gearbox" */
  label: string;
  trend: LocationTrend;
  standing: Standing;
  /** What else has changed beyond its own scatter: "acceleration RMS has risen to 1.6 times its baseline". */
  also: string[];
  /** What the newest look found, if a part. */
  found: string | null;
  caution: string | null;
}

/** Trends take processor time, and this page is for one look on a phone. */
const MOST_PLACES = 12;
const NOT_YET = 'cannot be said yet: too few measurements under the same conditions';
const SEVERITY: OwnerView['answer'][] = ['worse', 'not-known', 'better', 'steady'];

/** All that an owner is told of one asset. */
export async function ownerView(
  deps: OwnerDeps,
  asset: AssetRecord,
  validUntilMs: number,
): Promise<OwnerView> {
  // Taken first: what is due now is not overdue a moment later.
  const nowMs = deps.now();
  const places = await placesOf(deps, asset);
  const worst = places[0] ?? null;
  const accused = places.filter(({ standing, found }) => standing.answer === 'worse' || found !== null);
  const next = await nextStep(deps, asset, places);
  const measured = places.flatMap(({ trend: of }) => of.points.at(-1)?.timeMs ?? []);
  return {
    asset: asset.name,
    safety: safetyOf(accused, next),
    ...answerOf(places),
    howMuch: worst === null ? null : await howMuch(deps, worst),
    found: foundText(places),
    next: next.text,
    byMs: next.byMs === null ? null : Math.round(next.byMs),
    overdue: next.byMs !== null && next.byMs < nowMs,
    signs: next.signs,
    places: places.map(({ label, standing, also }) => ({
      name: capital(label),
      answer: standing.answer,
      text: [standing.change ?? (also.length > 0 ? null : NOT_YET), ...also]
        .filter((text) => text !== null)
        .join('; '),
    })),
    measuredMs: measured.length === 0 ? null : Math.round(Math.max(...measured)),
    nowMs,
    validUntilMs,
  };
}

/** The worst first. */
async function placesOf({ records, trends }: OwnerDeps, asset: AssetRecord): Promise<OwnedPlace[]> {
  const locations = records.assets.locations(asset.id).slice(0, MOST_PLACES);
  const names = placeNames(locations);
  const changes = openChanges(records, asset.id);
  const places: OwnedPlace[] = [];
  for (const location of locations) {
    const followed = await trends.of(location.id);
    const standing = standingOfTrend(followed);
    // The trend is of one value: damage may show in another first.
    const also = changes
      .filter(({ locationId, quantity }) => locationId === location.id && quantity !== followed.value)
      .map(happened);
    places.push({
      location,
      label: names.get(location.id)!,
      trend: followed,
      standing: also.length === 0 ? standing : { ...standing, answer: 'worse' },
      also,
      found: foundAt(records, location),
      caution: safetyCaution(records, location),
    });
  }
  return places.sort(
    (a, b) =>
      SEVERITY.indexOf(a.standing.answer) - SEVERITY.indexOf(b.standing.answer) ||
      (b.standing.ratio ?? 0) - (a.standing.ratio ?? 0),
  );
}

/** What the sensor that sits there now has shown; another one's finding is history. */
function foundAt(records: RecordStore, { id }: LocationRecord): string | null {
  const standing = records.findings.standingAt(id);
  const mount = records.mounts.currentAt(id);
  if (standing === null || standing.nodeId !== mount?.nodeId || standing.sensor !== mount.sensor) return null;
  return isPart(standing.verdict) ? verdictText(standing.verdict, standing.bearing) : null;
}

function safetyOf(accused: readonly OwnedPlace[], { planned }: NextStep): string | null {
  const mustNotWait =
    accused.some(({ caution }) => caution !== null) || planned.some(({ caution }) => caution !== null);
  return mustNotWait ? trend.DO_NOT_DEFER : null;
}

function answerOf(places: readonly OwnedPlace[]): Pick<OwnerView, 'answer' | 'headline'> {
  const worst = places[0];
  if (worst === undefined || places.every(({ standing }) => standing.answer === 'not-known'))
    return {
      answer: 'not-known',
      headline: 'Whether it gets worse cannot be said yet: too few measurements under the same conditions.',
    };
  if (worst.standing.answer === 'worse')
    return { answer: 'worse', headline: `Yes, it is getting worse at the ${worst.label}.` };
  const known = places.find(({ standing }) => standing.answer !== 'not-known')!;
  const part = places.length > 1 ? ', as far as enough was measured' : '';
  if (known.standing.answer === 'better')
    return { answer: 'better', headline: `No, it has become less at the ${known.label}.` };
  return { answer: 'steady', headline: `No, nothing is getting worse${part}.` };
}

/** The change in per cent, and in the value's unit for the condition that was measured most. */
async function howMuch({ trends }: OwnerDeps, place: OwnedPlace): Promise<string | null> {
  const { standing, trend: of, label } = place;
  const also = place.also.map((text) => `${capital(text)}.`);
  if (standing.change === null) return also.length === 0 ? null : also.join(' ');
  const first = `The vibration of the ${label} is ${standing.change}`;
  if (standing.level !== null) return [`${first}: ${standing.level}.`, ...also].join(' ');
  const bin = of.bins.find(({ runsMissing }) => runsMissing === 0)?.bin;
  const single = bin === undefined ? null : standingOfTrend(await trends.of(place.location.id, { bin }));
  const inUnit = single?.level == null ? [] : [`At ${bin}: ${single.level}.`];
  return [`${first}.`, ...inUnit, ...also].join(' ');
}

function foundText(places: readonly OwnedPlace[]): string | null {
  const found = places.filter((place) => place.found !== null);
  if (found.length === 0) return null;
  return `${found.map((place) => `${place.found} at the ${place.label}`).join('; ')}.`;
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
