/** The newest levels of every station that shares a database with this one. */
import { useComputed } from '@preact/signals';
import type { Site, SiteAlert, SiteAsset, SiteLocation, Sites as SitesAnswer } from '../../contract/sites.ts';
import { isNoteworthy, verdictText } from '../finding-words.ts';
import { ago, moment, NONE, significant } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure } from './actions.tsx';
import { CautionLine } from './caution-line.tsx';
import { Flags, ZoneScale } from './level.tsx';
import { usePolled } from './polled.ts';
import { Title } from './title.tsx';

const REFRESH_MS = 10_000;
/** Readings of other sites come over a network: some seconds of delay are nothing to speak of. */
const OLD_AFTER_MS = 60_000;

export function Sites() {
  const { state } = useApp();
  const sites = useComputed(() => state.value.session?.sites).value;
  return (
    <>
      <Title>Sites</Title>
      {sites === 'readable' ? <Fleet /> : <NotReadable writeOnly={sites === 'write-only'} />}
    </>
  );
}

function NotReadable({ writeOnly }: { writeOnly: boolean }) {
  return writeOnly ? (
    <p>
      This station sends its readings to a database that other sites send theirs to as well, but it may not
      read there: look at the sites on a station that may. What is measured here is on the page Levels.
    </p>
  ) : (
    <p>This station shares no database with other sites. What is measured here is on the page Levels.</p>
  );
}

function Fleet() {
  const { api, nowMs } = useApp();
  const { data, failure } = usePolled<SitesAnswer>(() => api.sites(), '', REFRESH_MS);
  const answer = data.value;
  return (
    <>
      <p class="lead">
        Every station that sends its readings to the same database as this one. Velocity RMS (root mean
        square) of the highest axis in the newest second; letters are zones.
      </p>
      <Failure failure={failure.value} />
      {answer === null ? (
        failure.value === null && <p>Asking the database…</p>
      ) : answer.sites.length === 0 ? (
        <p class="none">No station has sent anything yet.</p>
      ) : (
        answer.sites.map((site) => <SiteLevels key={site.site} site={site} nowMs={nowMs.value} />)
      )}
      <CautionLine>
        Zones were made for stationary machines at steady speed; on a vehicle they only screen.
      </CautionLine>
    </>
  );
}

function SiteLevels({ site, nowMs }: { site: Site; nowMs: number }) {
  const { assets, alerts, unplacedSensors: unplaced } = site;
  const heading = `site-${site.site}`;
  return (
    <section class="panel site-levels" aria-labelledby={heading}>
      <header>
        <h2 id={heading}>
          {site.site}
          {site.own && ' (this station)'}
        </h2>
        <p>{heardText(site, nowMs)}</p>
      </header>
      {alerts.length > 0 && (
        <ul class="site-alerts" aria-label={`Open alerts of ${site.site}`}>
          {alerts.map((alert) => (
            <AlertRow key={alert.id} alert={alert} nowMs={nowMs} />
          ))}
        </ul>
      )}
      {assets.length === 0 && <p class="none">It has no assets yet.</p>}
      {assets.map((asset) => (
        <AssetRows key={asset.id} asset={asset} nowMs={nowMs} />
      ))}
      {unplaced > 0 && (
        <p class="none">
          {unplaced === 1 ? '1 sensor measures' : `${unplaced} sensors measure`} at no location that is known.
        </p>
      )}
    </section>
  );
}

function AlertRow({ alert, nowMs }: { alert: SiteAlert; nowMs: number }) {
  const { title, value, limit, unit, sinceMs, isAcknowledged } = alert;
  const figures = value === null ? '' : ` ${significant(value)} ${unitText(unit)}`;
  const against = value === null || limit === null ? '' : `, limit ${significant(limit)} ${unitText(unit)}`;
  return (
    <li>
      <strong>{title}</strong>
      <span class="component">
        {figures}
        {against}
        {figures === '' ? '' : '; '}since {moment(sinceMs, nowMs)}
        {isAcknowledged ? ', acknowledged' : ', not acknowledged yet'}
      </span>
    </li>
  );
}

const unitText = (unit: string) => (unit === 'ratio' ? 'times the baseline' : unit);

function heardText({ assets, announcedMs }: Site, nowMs: number): string {
  const heard = assets.flatMap(({ locations }) => locations.flatMap(({ newest }) => newest?.heardMs ?? []));
  const newest =
    heard.length === 0 ? 'nothing heard for a month' : `last heard ${agoOr(Math.max(...heard), nowMs)}`;
  return announcedMs === null ? `${newest}; it has not told its names, so numbers stand for them` : newest;
}

/** A second is heard of when it is over. */
function agoOr(startMs: number, nowMs: number): string {
  const ageMs = nowMs - startMs - 1000;
  return ageMs < 48 * 3_600_000 ? ago(ageMs) : moment(startMs, nowMs);
}

function AssetRows({ asset, nowMs }: { asset: SiteAsset; nowMs: number }) {
  const { id, name, kind, machineClass, locations } = asset;
  const what = [
    kind === null ? '' : kind === 'vehicle' ? 'Vehicle' : 'Machine',
    machineClass && `class ${machineClass}`,
  ];
  return (
    <>
      <h3>
        {name ?? `Asset ${id}`} <span class="component">{what.filter(Boolean).join(', ')}</span>
      </h3>
      {locations.length === 0 ? (
        <p class="none">No location yet.</p>
      ) : (
        <ul class="rows">
          {locations.map((place) => (
            <PlaceRow key={place.id} place={place} nowMs={nowMs} />
          ))}
        </ul>
      )}
    </>
  );
}

function PlaceRow({ place, nowMs }: { place: SiteLocation; nowMs: number }) {
  const { newest, finding } = place;
  const level = newest?.level ?? null;
  const old = newest === null || nowMs - newest.heardMs > OLD_AFTER_MS;
  const range = level?.velocityUncertaintyMmPerS ?? null;
  return (
    <li>
      <div class={`row plain ${old ? 'old' : ''}`}>
        <span class="place">
          <span class="name">{place.name ?? `Location ${place.id}`}</span>
          <span class="component">{place.component}</span>
        </span>
        <span class="level">
          <span class="velocity">
            <span class="number">{level === null ? NONE : significant(level.velocityRmsMmPerS)}</span>
            <span class="unit">mm/s</span>
          </span>
          <span class="axis">{range === null ? '' : `± ${significant(range, 2)}`}</span>
        </span>
        <ZoneScale zone={level?.zone ?? null} old={old} />
        <span class={`age ${old ? 'silent' : 'fresh'}`}>{ageText(newest, nowMs)}</span>
        {finding && isNoteworthy(finding.verdict) && (
          <span class="finding">
            {verdictText(finding.verdict, finding.bearing)}, since {moment(finding.sinceMs, nowMs)}
          </span>
        )}
        {newest && newest.flags.length > 0 && <Flags flags={newest.flags} />}
      </div>
    </li>
  );
}

/** Of the level that is shown; a newer second without one says so by its flags. */
function ageText(newest: SiteLocation['newest'], nowMs: number): string {
  if (newest === null) return 'no reading';
  return agoOr(newest.level?.atMs ?? newest.heardMs, nowMs);
}
