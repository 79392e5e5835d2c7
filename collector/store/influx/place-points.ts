/**
 * What a station tells of itself beside its readings, so that a fleet of many sites can be read: its assets and
 * locations by name, what each of them is, and what stands against it. Measurement `place`.
 *
 * | point                                        | tags                        | fields                            |
 * |----------------------------------------------|-----------------------------|-----------------------------------|
 * | the announcement itself                      | `site`                      | `places`: how many points follow  |
 * | a location                                   | `site`, `asset`, `location` | PLACE_FIELD                       |
 * | an asset without a location                  | `site`, `asset`             | PLACE_FIELD, without a location's |
 *
 * All points of an announcement bear its time, and each announcement is complete: what has another time than the
 * newest announcement of its site is there no more. Names are fields, since they may be corrected; numbers are tags,
 * the same as those of the readings.
 */
import { escape as inLine } from '@influxdata/influxdb-client';

export const PLACE_MEASUREMENT = 'place';
/** Only on the point of the announcement itself. */
export const PLACES_FIELD = 'places';

const PLACE_FIELD = {
  assetName: 'asset_name',
  kind: 'kind',
  machineClass: 'class',
  locationName: 'location_name',
  component: 'component',
  finding: 'finding',
  findingBearing: 'finding_bearing',
  findingSinceS: 'finding_since_s',
} as const;

/** A location of an asset, or an asset that has none yet. */
export interface Place {
  /** Numbers as texts: the tags of the readings measured there. */
  asset: string;
  assetName: string;
  kind: string;
  machineClass: string;
  location: { id: string; name: string; component: string } | null;
  /** What the newest look into the samples there said, and since when; null before the first. */
  finding: { verdict: string; bearing: string | null; sinceMs: number } | null;
}

/** Line protocol of a whole announcement; `atS` is the second since 1970 that its points bear. */
export function announcementLines(site: string, places: readonly Place[], atS: number): string[] {
  const line = (tags: string, fields: readonly string[]) =>
    `${PLACE_MEASUREMENT}${tags},site=${inLine.tag(site)} ${fields.join(',')} ${atS}`;
  return [line('', [`${PLACES_FIELD}=${places.length}i`]), ...places.map((place) => placeLine(place, line))];
}

function placeLine(
  { asset, assetName, kind, machineClass, location, finding }: Place,
  line: (tags: string, fields: readonly string[]) => string,
): string {
  const fields = [
    text(PLACE_FIELD.assetName, assetName),
    text(PLACE_FIELD.kind, kind),
    text(PLACE_FIELD.machineClass, machineClass),
  ];
  if (location === null) return line(`,asset=${inLine.tag(asset)}`, fields);
  fields.push(
    text(PLACE_FIELD.locationName, location.name),
    text(PLACE_FIELD.component, location.component),
    text(PLACE_FIELD.finding, finding?.verdict ?? ''),
    text(PLACE_FIELD.findingBearing, finding?.bearing ?? ''),
    `${PLACE_FIELD.findingSinceS}=${Math.floor((finding?.sinceMs ?? 0) / 1000)}i`,
  );
  return line(`,asset=${inLine.tag(asset)},location=${inLine.tag(location.id)}`, fields);
}

/** A line break inside a text is allowed, but not every reader of lines knows it. */
function text(name: string, value: string): string {
  return `${name}=${inLine.quoted(value.replace(/\s+/g, ' ').trim())}`;
}

/** The place that a point is of; null when it is not whole. */
export function placeOf(
  tags: { asset: string; location: string | null },
  fields: ReadonlyMap<string, string | number>,
): Place | null {
  const textOf = (name: string) => String(fields.get(name) ?? '');
  if (!fields.has(PLACE_FIELD.assetName)) return null;
  const verdict = textOf(PLACE_FIELD.finding);
  const sinceMs = Number(fields.get(PLACE_FIELD.findingSinceS) ?? 0) * 1000;
  return {
    asset: tags.asset,
    assetName: textOf(PLACE_FIELD.assetName),
    kind: textOf(PLACE_FIELD.kind),
    machineClass: textOf(PLACE_FIELD.machineClass),
    location:
      tags.location === null
        ? null
        : {
            id: tags.location,
            name: textOf(PLACE_FIELD.locationName),
            component: textOf(PLACE_FIELD.component),
          },
    finding:
      verdict === '' ? null : { verdict, bearing: textOf(PLACE_FIELD.findingBearing) || null, sinceMs },
  };
}
