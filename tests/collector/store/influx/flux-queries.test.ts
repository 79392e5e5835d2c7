import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Flux } from '@influxdata/flux-lsp-node';
import { describe, expect, it } from 'vitest';
import * as queries from '../../../../collector/store/influx/flux-queries.ts';
import { LEVELS, type LevelName, VALUE_FIELDS } from '../../../../collector/store/influx/layout.ts';

/** The checker parses and infers types: a misspelt function, argument or a wrong type is refused too. */
const isValid = (text: string) => new Flux(text).is_valid();

const HOSTILE = [
  'plain',
  'with "quotes"',
  'back\\slash',
  `$${'{1 + 1}'}`,
  'line\nbreak',
  ') |> drop(columns: ["_value"]) //',
  '',
];
const levels = Object.keys(LEVELS) as LevelName[];
const sites = [null, ...HOSTILE];
const span = { fromMs: 1_760_000_400_000, toMs: 1_760_004_000_000 };
const spans = [span, { fromMs: -1e15, toMs: 1e15 }, { fromMs: 0.25, toMs: 86_400_000.75 }];

function places(): queries.SensorPlace[] {
  return levels.flatMap((level) =>
    sites.map((site) => ({
      bucket: site ?? 'bucket',
      level,
      site,
      nodeId: site ?? '00000000000000b1',
      sensor: 3,
    })),
  );
}

function windows(): queries.WindowsQuery[] {
  return places()
    .flatMap(({ level, ...rest }) => (level === 'second' ? [] : [{ ...rest, level }]))
    .flatMap((place) =>
      (['energy', 'largest', 'median'] as const).flatMap((combine, i) =>
        [1, 514_285_714_285.71, 3.6e12, 31_536_000e9].map((widthNs) => ({
          place,
          axis: ['x', 'highest', 'single'][i]!,
          span,
          originMs: i * 1000 - 30_000,
          widthNs,
          field: VALUE_FIELDS[i * 2]!,
          combine,
        })),
      ),
    );
}

/** Every question that the code can ask, by the name of the function that words it. */
const GENERATED: Record<string, () => string[]> = {
  latestQuery: () => places().map(queries.latestQuery),
  sensorsQuery: () => places().map(queries.sensorsQuery),
  pointsQuery: () => places().flatMap((place) => spans.map((one) => queries.pointsQuery(place, one))),
  newestRollupQuery: () => places().map(queries.newestRollupQuery),
  rollupCountQuery: () => places().map((place) => queries.rollupCountQuery({ ...place, slot: 29_333_340 })),
  dailyCountsQuery: () =>
    places().flatMap((place) => spans.map((one) => queries.dailyCountsQuery(place, one))),
  fieldsQuery: () =>
    places().map((place) =>
      queries.fieldsQuery({ place, axis: 'x', span, fields: ['left_out', ...VALUE_FIELDS] }),
    ),
  openAlertsQuery: () => HOSTILE.map(queries.openAlertsQuery),
  alertsQuery: () =>
    HOSTILE.map((site) =>
      queries.alertsQuery(
        site,
        HOSTILE.map((alert) => ({ site, alert })),
      ),
    ),
  placesQuery: () => HOSTILE.map(queries.placesQuery),
  newestLevelsQuery: () =>
    HOSTILE.flatMap((bucket) => spans.map((one) => queries.newestLevelsQuery(bucket, one))),
  windowsQuery: () => windows().map(queries.windowsQuery),
};

describe('questions in Flux', () => {
  it.each(Object.entries(GENERATED))('%s is valid, whatever names it is given', (_, texts) => {
    for (const text of new Set(texts())) expect(isValid(text), text).toBe(true);
  });

  it('are all among those checked here', () => {
    expect(
      Object.keys(queries)
        .filter((name) => name.endsWith('Query'))
        .sort(),
    ).toEqual(Object.keys(GENERATED).sort());
  });

  it('are worded in one file only', () => {
    const root = join(dirname(fileURLToPath(import.meta.url)), '../../../..');
    const worded = ['collector', 'dashboard', 'broker', 'firmware-protocol'].flatMap((folder) =>
      readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
        .filter((name) => /\.tsx?$/.test(name))
        .map((name) => join(folder, name))
        .filter((name) => /from\(bucket|\bflux`/.test(readFileSync(join(root, name), 'utf8'))),
    );
    expect(worded).toEqual([join('collector', 'store', 'influx', 'flux-queries.ts')]);
  });

  it('bind names as texts: none becomes part of the program', () => {
    for (const name of HOSTILE) {
      const text = queries.latestQuery({ bucket: name, level: 'second', site: name });
      const plain = queries.latestQuery({ bucket: 'plain', level: 'second', site: 'plain' });
      expect(shapeOf(text)).toEqual(shapeOf(plain));
      expect(textsOf(text)).toContain(name);
    }
  });

  it('are refused by the checker when they are wrong', () => {
    const good = queries.windowsQuery(windows()[0]!);
    expect(isValid(good)).toBe(true);
    expect(isValid(good.replace('offset:', 'ofset:'))).toBe(false);
    expect(isValid(good.replace('group()', 'grop()'))).toBe(false);
    expect(isValid(good.replace(/1ns/, '"1ns"'))).toBe(false);
    expect(isValid(good.slice(0, -20))).toBe(false);
  });
});

type Node = { [key: string]: unknown };

/** Kinds of all nodes of the program, in order. */
function shapeOf(text: string): string[] {
  return nodesOf(new Flux(text).ast()).map((node) => String(node['type']));
}

function textsOf(text: string): unknown[] {
  return nodesOf(new Flux(text).ast())
    .filter((node) => node['type'] === 'StringLiteral')
    .map((node) => node['value']);
}

function nodesOf(value: unknown): Node[] {
  if (value instanceof Map) return nodesOf(Object.fromEntries(value));
  if (Array.isArray(value)) return value.flatMap(nodesOf);
  if (typeof value !== 'object' || value === null) return [];
  const node = value as Node;
  const inner = Object.entries(node)
    .filter(([key]) => key !== 'location')
    .flatMap(([, child]) => nodesOf(child));
  return typeof node['type'] === 'string' ? [node, ...inner] : inner;
}
