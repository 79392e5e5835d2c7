import type { Database } from 'better-sqlite3';

/** A step of the records file's layout, never edited once released. */
export const RECORDING_TABLES = `
  CREATE TABLE recordings (
    run_id INTEGER PRIMARY KEY REFERENCES runs (id) ON DELETE CASCADE,
    recording_id TEXT NOT NULL UNIQUE,
    sample_rate_hz REAL NOT NULL,
    full_scale_m_per_s2 REAL NOT NULL
  ) STRICT;
`;

/** A run may rest on several files: what a station measured comes to another one board by board, stretch by stretch. */
export const RECORDING_FILE_TABLES = `
  CREATE TABLE recording_files (
    recording_id TEXT PRIMARY KEY,
    run_id INTEGER NOT NULL REFERENCES runs (id) ON DELETE CASCADE,
    start_ms REAL NOT NULL,
    -- Null: one file of the run, and nobody counted.
    frames INTEGER,
    sample_rate_hz REAL NOT NULL,
    full_scale_m_per_s2 REAL NOT NULL,
    -- Largest expected error of start_ms against the other files; null: not known.
    time_uncertainty_ms REAL,
    -- Spans in which the sensor was driven out of its range, as JSON.
    clipped TEXT NOT NULL
  ) STRICT;
  CREATE INDEX recording_files_of_run ON recording_files (run_id, start_ms);

  CREATE TABLE recording_channels (
    recording_id TEXT NOT NULL REFERENCES recording_files (recording_id) ON DELETE CASCADE,
    channel INTEGER NOT NULL,
    location_id INTEGER NOT NULL REFERENCES locations (id) ON DELETE CASCADE,
    axis TEXT NOT NULL,
    -- Channels of one board share a clock; empty: those of one file do.
    board TEXT NOT NULL,
    PRIMARY KEY (recording_id, channel)
  ) STRICT, WITHOUT ROWID;

  INSERT INTO recording_files
    SELECT recording_id, run_id, start_ms, NULL, sample_rate_hz, full_scale_m_per_s2, 0, '[]'
    FROM recordings JOIN runs ON runs.id = run_id;
  INSERT INTO recording_channels
    SELECT recording_id, channel, location_id, axis, board FROM recorded_channels JOIN recordings USING (run_id);
  DROP TABLE recorded_channels;
  DROP TABLE recordings;
`;

type Axis = 'single' | 'x' | 'y' | 'z';

export interface RecordedChannel {
  channel: number;
  locationId: number;
  axis: Axis;
}

/** A file behind an imported run, and where its channels were measured. */
export interface Recording {
  recordingId: string;
  startMs: number;
  /** Null: not counted. */
  frames: number | null;
  sampleRateHz: number;
  fullScaleMPerS2: number;
  /** Largest expected error of `startMs`; null: not known. */
  timeUncertaintyMs: number | null;
  clipped: { fromMs: number; toMs: number }[];
  /** Files of one board share a clock. */
  board: string;
  channels: RecordedChannel[];
}

export interface Recordings {
  /** One more file of a run. */
  add(runId: number, recording: Recording): void;
  /** In order of time; those whose locations were all removed are left out. */
  ofRun(runId: number): Recording[];
  /** Files that runs rest on. */
  inUse(): Set<string>;
}

export function createRecordings(db: Database): Recordings {
  const insert = db.prepare(
    `INSERT INTO recording_files VALUES
     (@recordingId, @runId, @startMs, @frames, @sampleRateHz, @fullScaleMPerS2, @timeUncertaintyMs, @clipped)`,
  );
  const insertChannel = db.prepare('INSERT INTO recording_channels VALUES (?, ?, ?, ?, ?)');
  const find = db.prepare(
    `SELECT recording_id AS recordingId, start_ms AS startMs, frames, sample_rate_hz AS sampleRateHz,
       full_scale_m_per_s2 AS fullScaleMPerS2, time_uncertainty_ms AS timeUncertaintyMs, clipped
     FROM recording_files WHERE run_id = ? ORDER BY start_ms, recording_id`,
  );
  const channels = db.prepare(
    'SELECT channel, location_id AS locationId, axis, board FROM recording_channels WHERE recording_id = ? ORDER BY channel',
  );
  const used = db.prepare('SELECT recording_id FROM recording_files').pluck();
  return {
    add: db.transaction((runId: number, { channels: own, board, ...recording }: Recording) => {
      insert.run({ ...recording, runId, clipped: JSON.stringify(recording.clipped) });
      for (const { channel, locationId, axis } of own) {
        insertChannel.run(recording.recordingId, channel, locationId, axis, board);
      }
    }),
    ofRun: (runId) =>
      (
        find.all(runId) as (Omit<Recording, 'channels' | 'board' | 'clipped'> & { clipped: string })[]
      ).flatMap(({ clipped, ...recording }) => {
        const own = channels.all(recording.recordingId) as (RecordedChannel & { board: string })[];
        if (own.length === 0) return [];
        return {
          ...recording,
          clipped: JSON.parse(clipped) as Recording['clipped'],
          board: own[0]!.board || recording.recordingId,
          channels: own.map(({ channel, locationId, axis }) => ({ channel, locationId, axis })),
        };
      }),
    inUse: () => new Set(used.all() as string[]),
  };
}
