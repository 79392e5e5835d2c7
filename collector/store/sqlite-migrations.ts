/**
 * Layout of the readings file. Entry n brings a file from version n to n + 1; entries are only ever appended.
 *
 * Rows are WITHOUT ROWID: the key is the clustering, so a span of one sensor lies together on disk. Values are
 * packed 32-bit floats (reading-row.ts, rollup-row.ts): seven digits, far finer than any sensor, at half the size
 * of SQL numbers.
 */
export const MIGRATIONS: readonly string[] = [
  `
  CREATE TABLE meta (key TEXT PRIMARY KEY, value) WITHOUT ROWID;
  CREATE TABLE sensor (
    id INTEGER PRIMARY KEY,
    node_id TEXT NOT NULL,
    sensor INTEGER NOT NULL,
    -- Minute of the newest reading. It is not rolled up yet; all earlier ones are.
    open_minute INTEGER NOT NULL,
    UNIQUE (node_id, sensor)
  );
  CREATE TABLE reading (
    sensor_id INTEGER NOT NULL,
    second INTEGER NOT NULL,
    flags INTEGER NOT NULL,
    axes INTEGER NOT NULL,
    packed BLOB NOT NULL,
    PRIMARY KEY (sensor_id, second)
  ) WITHOUT ROWID;
  CREATE TABLE minute (
    sensor_id INTEGER NOT NULL,
    slot INTEGER NOT NULL,
    count INTEGER NOT NULL,
    flagged INTEGER NOT NULL,
    axes INTEGER NOT NULL,
    packed BLOB NOT NULL,
    PRIMARY KEY (sensor_id, slot)
  ) WITHOUT ROWID;
  CREATE TABLE hour (
    sensor_id INTEGER NOT NULL,
    slot INTEGER NOT NULL,
    count INTEGER NOT NULL,
    flagged INTEGER NOT NULL,
    axes INTEGER NOT NULL,
    packed BLOB NOT NULL,
    PRIMARY KEY (sensor_id, slot)
  ) WITHOUT ROWID;
  CREATE TABLE pipeline_state (key TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID;
  `,
  `
  -- Mean spectrum of each minute (spectrum-row.ts).
  CREATE TABLE spectrum (
    sensor_id INTEGER NOT NULL,
    slot INTEGER NOT NULL,
    -- Blocks averaged.
    count INTEGER NOT NULL,
    axes INTEGER NOT NULL,
    first_band INTEGER NOT NULL,
    packed BLOB NOT NULL,
    PRIMARY KEY (sensor_id, slot)
  ) WITHOUT ROWID;
  `,
];

/** "CLrd": tells this file from other SQLite files. */
export const APPLICATION_ID = 0x434c7264;
