import type { Database } from 'better-sqlite3';
import { ALERT_GONE_STEP, ALERT_TABLES } from './alert-tables.ts';
import { DECISION_TABLES } from './decision-tables.ts';
import { FINDING_TABLES } from './finding-tables.ts';
import { OWNER_TABLES } from './owner-links.ts';
import { RecordError } from './record-error.ts';
import { RECORDING_FILE_TABLES, RECORDING_TABLES } from './recordings.ts';
import { REPAIR_CHECK_TABLES } from './repair-check-tables.ts';
import { RIG_TABLES, SHAKER_TABLES } from './rig-tables.ts';
import { RUN_RESULT_TABLES } from './run-results.ts';
import { RUN_TABLES, TROUBLE_CODE_COLUMN } from './run-tables.ts';
import { STRIP_DOWN_TABLES } from './strip-down-tables.ts';
import { WATCH_PLAN_TABLES } from './watch-plan-tables.ts';
import { WEEK_TABLES } from './week-tables.ts';

/** "CLRC": marks the file as a Clampline records file, so that another SQLite file is not taken for one. */
const APPLICATION_ID = 0x434c5243;

/**
 * Ordered for ever: a step that has been released is never edited, only followed by another.
 * `user_version` of the file counts the steps it has seen.
 */
const STEPS: readonly string[] = [
  `
  CREATE TABLE settings (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;

  CREATE TABLE people (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL,
    -- Folded form of the name, so that "Kim" and "kim" are one person.
    name_key TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('shop', 'technician')),
    password_hash TEXT NOT NULL,
    created_ms INTEGER NOT NULL
  ) STRICT;

  CREATE TABLE sessions (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    token_hash BLOB NOT NULL UNIQUE,
    person_id INTEGER NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    created_ms INTEGER NOT NULL,
    expires_ms INTEGER NOT NULL
  ) STRICT;

  CREATE TABLE nodes (
    id TEXT PRIMARY KEY,
    label TEXT NOT NULL,
    credential_hash BLOB NOT NULL,
    created_ms INTEGER NOT NULL,
    revoked_ms INTEGER
  ) STRICT;

  CREATE TABLE assets (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('vehicle', 'machine')),
    machine_class TEXT NOT NULL CHECK (machine_class IN ('I', 'II', 'III', 'IV')),
    created_ms INTEGER NOT NULL
  ) STRICT;

  CREATE TABLE locations (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    name TEXT NOT NULL,
    component TEXT NOT NULL
  ) STRICT;
  CREATE INDEX locations_of_asset ON locations (asset_id);

  CREATE TABLE mounts (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    location_id INTEGER NOT NULL REFERENCES locations (id) ON DELETE CASCADE,
    node_id TEXT NOT NULL REFERENCES nodes (id),
    sensor INTEGER NOT NULL CHECK (sensor BETWEEN 0 AND 15),
    from_ms INTEGER NOT NULL,
    to_ms INTEGER CHECK (to_ms > from_ms)
  ) STRICT;
  CREATE INDEX mounts_of_sensor ON mounts (node_id, sensor, from_ms);
  CREATE INDEX mounts_of_location ON mounts (location_id, from_ms);
  CREATE UNIQUE INDEX one_place_for_a_sensor ON mounts (node_id, sensor) WHERE to_ms IS NULL;
  CREATE UNIQUE INDEX one_sensor_at_a_location ON mounts (location_id) WHERE to_ms IS NULL;

  -- The same two laws over all of history: spans of one sensor, or of one location, never overlap.
  CREATE TRIGGER mounts_do_not_overlap BEFORE INSERT ON mounts
  WHEN EXISTS (
    SELECT 1 FROM mounts AS other
    WHERE (other.location_id = NEW.location_id OR (other.node_id = NEW.node_id AND other.sensor = NEW.sensor))
      AND (other.to_ms IS NULL OR other.to_ms > NEW.from_ms)
      AND (NEW.to_ms IS NULL OR other.from_ms < NEW.to_ms)
  )
  BEGIN SELECT RAISE(ABORT, 'mounts overlap'); END;
  `,
  RUN_TABLES,
  RIG_TABLES,
  FINDING_TABLES,
  RUN_RESULT_TABLES,
  RECORDING_TABLES,
  WEEK_TABLES,
  WATCH_PLAN_TABLES,
  DECISION_TABLES,
  TROUBLE_CODE_COLUMN,
  ALERT_TABLES,
  RECORDING_FILE_TABLES,
  OWNER_TABLES,
  REPAIR_CHECK_TABLES,
  STRIP_DOWN_TABLES,
  ALERT_GONE_STEP,
  SHAKER_TABLES,
];

/** Brings `db` to the newest layout. Refuses files of other programs and of newer versions untouched. */
export function migrate(db: Database, file: string): void {
  const applicationId = db.pragma('application_id', { simple: true }) as number;
  const version = db.pragma('user_version', { simple: true }) as number;
  const empty = db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get() === 0;
  if (!empty && applicationId !== APPLICATION_ID) {
    throw new RecordError(
      'RECORDS_UNREADABLE',
      `${file} is not a records file of this station`,
      'Move the file away, or name another data folder.',
    );
  }
  if (version > STEPS.length) {
    throw new RecordError(
      'RECORDS_UNREADABLE',
      `${file} was written by a newer version (layout ${version}, this version knows ${STEPS.length})`,
      'Update the station, or start the version that wrote the file.',
    );
  }
  if (version === STEPS.length) return;
  if (db.readonly) {
    throw new RecordError(
      'RECORDS_UNREADABLE',
      `${file} was written by an earlier version (layout ${version}, this version reads ${STEPS.length})`,
      'Start the station once with this version: that brings the file up to date.',
    );
  }
  db.transaction(() => {
    db.pragma(`application_id = ${APPLICATION_ID}`);
    for (const step of STEPS.slice(version)) db.exec(step);
    db.pragma(`user_version = ${STEPS.length}`);
  }).immediate();
}
