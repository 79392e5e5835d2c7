/**
 * What is carried from station to station with an asset, table by table, in the order in which rows refer to each other.
 * Assets, locations, mounts, nodes and drive trains are told in the archive's own words, and recordings are files, so
 * neither is here.
 */
import { type TObject, Type } from 'typebox';
import { AlertAbout, AlertClearing } from '../../../contract/alerts.ts';
import { Decision } from '../../../contract/decisions.ts';
import { FindingRecord } from '../../../contract/drive-train.ts';
import { CompareResult } from '../../../contract/inquiries.ts';
import { TrendValue } from '../../../contract/model.ts';
import { RepairCheckRequest, RepairResult, RepairRuns } from '../../../contract/repair-checks.ts';
import { GravityCheckResult, ShakerCheckResult } from '../../../contract/rig.ts';
import {
  Check,
  Complaint,
  ManoeuvreId,
  NoiseMark,
  Outcome,
  RunKind,
  RunManoeuvre,
  VehicleQuantity,
} from '../../../contract/runs.ts';
import { NumberOrNull } from '../../../contract/scalars.ts';
import { StripDown } from '../../../contract/strip-downs.ts';
import { WatchPlanRequest } from '../../../contract/watch-plans.ts';
import { EventKind } from '../../../contract/weeks.ts';

const OrNull = <Schema extends Parameters<typeof Type.Union>[0][number]>(schema: Schema) =>
  Type.Union([schema, Type.Null()]);
const Text = (maxLength: number) => Type.String({ maxLength });
const Millis = Type.Integer({ minimum: 0, maximum: 8_640_000_000_000_000 });
const MillisOrNull = OrNull(Millis);
const Id = Type.Integer({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER });
const NodeId = Type.String({ pattern: '^[0-9a-f]{16}$' });
const SensorNumber = Type.Integer({ minimum: 0, maximum: 15 });
const Person = Text(200);

/** Columns that hold JSON hold it as a value here. */
export interface CarriedTable {
  name: string;
  /** Which rows are those of the asset `@assetId`. */
  of: string;
  /**
   * Every column that is carried. `id` is there where other rows refer to it; `asset_id` is not, since it is one.
   * Locations are known by their place in the archive's list of them.
   */
  row: TObject;
  json?: readonly string[];
  /** Of these, those in which every number is that of a record of the table named. */
  numbers?: Readonly<Record<string, string>>;
  /** Columns that tell a row from others: one that is there already is left as it is. */
  same: readonly string[];
  /** What a row is given here, whatever it was elsewhere. */
  set?: Readonly<Record<string, string | null>>;
  /** SQL that is true for a row that has no place here any more. */
  unless?: string;
  /** SQL for a column that is carried otherwise than it is stored. */
  as?: Readonly<Record<string, string>>;
  /** Columns that stay behind. */
  behind?: readonly string[];
}

const row = <Properties extends Parameters<typeof Type.Object>[0]>(properties: Properties) =>
  Type.Object(properties, { additionalProperties: false });

const OF_RUNS = 'run_id IN (SELECT id FROM runs WHERE asset_id = @assetId)';
const OF_LOCATIONS = 'location_id IN (SELECT id FROM locations WHERE asset_id = @assetId)';
const OF_SENSORS = `(node_id, sensor) IN (SELECT node_id, sensor FROM mounts WHERE ${OF_LOCATIONS})`;

const Summary = Type.Object({
  used: Type.Number(),
  leftOutShare: Type.Number(),
  median: NumberOrNull,
  mad: NumberOrNull,
  medianSd: NumberOrNull,
  refused: OrNull(Type.Enum(['too-few-readings', 'too-many-left-out'])),
});

const { id: _id, picture: _picture, ...found } = FindingRecord.properties;
const { atMs: _atMs, ...checked } = GravityCheckResult.properties;
const { atMs: _shakenMs, ...shaken } = ShakerCheckResult.properties;

export const CARRIED_TABLES: readonly CarriedTable[] = [
  {
    name: 'sensors',
    of: OF_SENSORS,
    row: row({
      node_id: NodeId,
      sensor: SensorNumber,
      part: Text(200),
      serial: Text(200),
      noise_density: NumberOrNull,
      tolerance_pct: NumberOrNull,
    }),
    same: ['node_id', 'sensor'],
  },
  {
    name: 'gravity_checks',
    of: OF_SENSORS,
    row: row({ node_id: NodeId, sensor: SensorNumber, at_ms: Millis, result: Type.Object(checked) }),
    json: ['result'],
    same: ['node_id', 'sensor', 'at_ms'],
    behind: ['id'],
  },
  {
    name: 'shaker_checks',
    of: OF_SENSORS,
    row: row({ node_id: NodeId, sensor: SensorNumber, at_ms: Millis, result: Type.Object(shaken) }),
    json: ['result'],
    same: ['node_id', 'sensor', 'at_ms'],
    behind: ['id'],
  },
  {
    name: 'asset_events',
    of: 'asset_id = @assetId',
    row: row({ id: Id, at_ms: Millis, kind: EventKind, note: Text(1000), by_whom: Person }),
    same: ['asset_id', 'at_ms', 'kind', 'note'],
  },
  {
    name: 'runs',
    of: 'asset_id = @assetId',
    row: row({
      id: Id,
      kind: RunKind,
      start_ms: Millis,
      end_ms: Millis,
      operator: Person,
      odometer_km: NumberOrNull,
      notes: Text(4000),
      complaint: Type.Partial(Complaint),
      checks: Type.Array(Check, { maxItems: 20 }),
      trouble_codes: Type.Array(Text(20), { maxItems: 30 }),
      outcome: OrNull(Outcome),
      kept: Type.Enum([0, 1]),
    }),
    json: ['complaint', 'checks', 'trouble_codes'],
    same: ['asset_id', 'kind', 'start_ms'],
    // Its samples lie in files here, not in the journal.
    set: { source: 'import' },
    // One under way ends, for others, with what of it has been carried.
    as: { end_ms: 'ifnull(end_ms, max(start_ms, @nowMs))' },
    behind: ['source'],
  },
  {
    name: 'noise_marks',
    of: OF_RUNS,
    row: row({
      run_id: Id,
      at_ms: Millis,
      end_ms: MillisOrNull,
      source: NoiseMark.properties.source,
      note: Text(300),
      by_whom: Person,
    }),
    same: ['run_id', 'at_ms', 'source'],
    behind: ['id', 'message_key'],
  },
  {
    name: 'manoeuvres',
    of: OF_RUNS,
    row: row({
      id: Id,
      run_id: Id,
      manoeuvre: ManoeuvreId,
      start_ms: Millis,
      end_ms: MillisOrNull,
      noise: RunManoeuvre.properties.noise,
      pitch: RunManoeuvre.properties.pitch,
    }),
    same: ['run_id', 'manoeuvre', 'start_ms'],
  },
  {
    name: 'vehicle_values',
    of: OF_RUNS,
    row: row({ run_id: Id, quantity: VehicleQuantity, at_ms: Millis, value: Type.Number() }),
    same: ['run_id', 'quantity', 'at_ms'],
  },
  {
    name: 'run_results',
    of: `${OF_RUNS} AND kind = 'compare'`,
    row: row({ run_id: Id, kind: Type.Literal('compare'), result: CompareResult }),
    json: ['result'],
    same: ['run_id', 'kind'],
  },
  {
    name: 'runs_left_out',
    of: OF_RUNS,
    row: row({ run_id: Id, reason: Text(1000), by_whom: Person }),
    same: ['run_id'],
  },
  {
    name: 'run_evaluations',
    of: OF_RUNS,
    row: row({ run_id: Id, times: Type.Integer({ minimum: 0 }) }),
    same: ['run_id'],
    // Whatever samples may still come do not come here.
    set: { again_ms: null },
    behind: ['again_ms'],
  },
  {
    name: 'period_levels',
    of: OF_LOCATIONS,
    row: row({
      location_id: Id,
      run_id: OrNull(Id),
      from_ms: Millis,
      to_ms: Millis,
      bin: Text(200),
      readings: Type.Integer({ minimum: 0 }),
      summaries: Type.Record(TrendValue, Summary),
    }),
    json: ['summaries'],
    same: ['location_id', 'run_id', 'from_ms', 'bin'],
    behind: ['id'],
  },
  {
    name: 'findings',
    of: OF_LOCATIONS,
    row: row({
      location_id: Id,
      at_ms: Millis,
      verdict: FindingRecord.properties.verdict,
      since_ms: Millis,
      record: Type.Object(found),
      // Served as it is: nothing in it may act.
      picture: OrNull(
        Type.String({
          maxLength: 2_000_000,
          pattern: '^<svg(?![\\s\\S]*(<script|<foreignObject|javascript:))',
        }),
      ),
    }),
    json: ['record'],
    same: ['location_id', 'at_ms'],
    // The newest row is what stands: an older one must not come behind it.
    unless:
      'EXISTS (SELECT 1 FROM findings AS newer WHERE newer.location_id = @location_id AND newer.at_ms > @at_ms)',
    behind: ['id'],
  },
  {
    name: 'watch_plans',
    of: 'asset_id = @assetId',
    row: row({
      location_id: OrNull(Id),
      plan: WatchPlanRequest,
      started_ms: Millis,
      started_by: Person,
      ended_ms: MillisOrNull,
      ended_by: OrNull(Person),
      end_reason: OrNull(Text(1000)),
    }),
    json: ['plan'],
    same: ['asset_id', 'location_id', 'started_ms'],
    unless: `@ended_ms IS NULL AND EXISTS (SELECT 1 FROM watch_plans AS open WHERE open.asset_id = @asset_id
      AND open.location_id IS @location_id AND open.ended_ms IS NULL)`,
    behind: ['id'],
  },
  {
    name: 'decisions',
    of: 'asset_id = @assetId',
    row: row({
      location_id: OrNull(Id),
      decided_ms: Millis,
      decided_by: Person,
      entered_ms: Millis,
      entered_by: Person,
      chosen: Text(200),
      record: Type.Pick(Decision, ['location', 'note', 'figures', 'answer', 'support']),
      refused_by: OrNull(Person),
      refused_text: OrNull(Text(2000)),
    }),
    json: ['record'],
    same: ['asset_id', 'entered_ms', 'chosen'],
    behind: ['id'],
  },
  {
    name: 'alerts',
    of: 'asset_id = @assetId',
    row: row({
      location_id: OrNull(Id),
      about: AlertAbout,
      node_id: OrNull(NodeId),
      quantity: OrNull(TrendValue),
      detail: Text(1000),
      value: NumberOrNull,
      limit_value: NumberOrNull,
      unit: Text(40),
      false_alarms_per_year: NumberOrNull,
      since_ms: Millis,
      raised_ms: Millis,
      last_seen_ms: Millis,
      cleared_ms: Millis,
      cleared_why: AlertClearing,
      acknowledged_ms: MillisOrNull,
      acknowledged_by: OrNull(Person),
      note: OrNull(Text(1000)),
    }),
    same: ['asset_id', 'location_id', 'about', 'raised_ms'],
    // Whether it stands still is for each station to find out; by what it knows it again means nothing elsewhere.
    as: {
      cleared_ms: 'ifnull(cleared_ms, max(last_seen_ms, @nowMs))',
      cleared_why: "ifnull(cleared_why, 'no-longer-compared')",
    },
    set: { cause: 'carried' },
    behind: ['id', 'cause'],
  },
  {
    name: 'repair_checks',
    of: 'asset_id = @assetId',
    row: row({
      location_id: Id,
      criterion: RepairCheckRequest,
      stated_ms: Millis,
      event_id: OrNull(Id),
      sensor_put_back: Type.Enum([0, 1]),
      runs: RepairRuns,
      concluded_ms: MillisOrNull,
      concluded_by: OrNull(Person),
      result: OrNull(RepairResult),
    }),
    json: ['criterion', 'runs', 'result'],
    numbers: { runs: 'runs' },
    same: ['asset_id', 'location_id', 'stated_ms'],
    behind: ['id'],
  },
  {
    name: 'strip_downs',
    of: 'asset_id = @assetId',
    row: row({
      location_id: OrNull(Id),
      opened_ms: Millis,
      entered_ms: Millis,
      entered_by: Person,
      record: Type.Pick(StripDown, ['location', 'part', 'damage', 'condition', 'openedBy', 'said']),
    }),
    json: ['record'],
    same: ['asset_id', 'location_id', 'opened_ms', 'entered_ms'],
    behind: ['id'],
  },
];
