/** Checks of sensors on a reference shaker. */
export const SHAKER_TABLES = `
  CREATE TABLE shaker_checks (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    node_id TEXT NOT NULL REFERENCES nodes (id),
    sensor INTEGER NOT NULL CHECK (sensor BETWEEN 0 AND 15),
    at_ms INTEGER NOT NULL,
    -- The result as JSON: reference, level, deviation, spread, tolerance.
    result TEXT NOT NULL
  ) STRICT;
  CREATE INDEX shaker_checks_of_sensor ON shaker_checks (node_id, sensor, at_ms);
  `;

/** Mounts that turn, sensors as things, and their gravity checks. */
export const RIG_TABLES = `
  -- Direction of gravity in the sensor's axes as the mount was set, m/s²; null until learned.
  ALTER TABLE mounts ADD COLUMN gravity_x REAL;
  ALTER TABLE mounts ADD COLUMN gravity_y REAL;
  ALTER TABLE mounts ADD COLUMN gravity_z REAL;
  -- How far the sensor had turned when this stretch began; null: a person began it.
  ALTER TABLE mounts ADD COLUMN turned_deg REAL;

  -- Sensors as things; a row appears when something is known of one.
  CREATE TABLE sensors (
    node_id TEXT NOT NULL REFERENCES nodes (id),
    sensor INTEGER NOT NULL CHECK (sensor BETWEEN 0 AND 15),
    part TEXT NOT NULL,
    serial TEXT NOT NULL,
    noise_density REAL,
    tolerance_pct REAL,
    PRIMARY KEY (node_id, sensor)
  ) STRICT;

  CREATE TABLE gravity_checks (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    node_id TEXT NOT NULL REFERENCES nodes (id),
    sensor INTEGER NOT NULL CHECK (sensor BETWEEN 0 AND 15),
    at_ms INTEGER NOT NULL,
    -- The result as JSON: scale, offset, residual, positions, tolerance.
    result TEXT NOT NULL
  ) STRICT;
  CREATE INDEX gravity_checks_of_sensor ON gravity_checks (node_id, sensor, at_ms);
  `;
