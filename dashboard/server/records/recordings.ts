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

type Axis = 'single' | 'x' | 'y' | 'z';

export interface RecordedChannel {
  channel: number;
  locationId: number;
  axis: Axis;
}

/** The file behind an imported run, and where its channels were measured. */
export interface Recording {
  recordingId: string;
  sampleRateHz: number;
  fullScaleMPerS2: number;
  channels: RecordedChannel[];
}

export interface Recordings {
  put(runId: number, recording: Recording): void;
  ofRun(runId: number): Recording | null;
  /** Files that runs rest on. */
  inUse(): Set<string>;
}

export function createRecordings(db: Database): Recordings {
  const insert = db.prepare('INSERT INTO recordings VALUES (?, ?, ?, ?)');
  const insertChannel = db.prepare(
    "INSERT INTO recorded_channels (run_id, channel, location_id, axis, board) VALUES (?, ?, ?, ?, '')",
  );
  const find = db.prepare(
    `SELECT recording_id AS recordingId, sample_rate_hz AS sampleRateHz, full_scale_m_per_s2 AS fullScaleMPerS2
     FROM recordings WHERE run_id = ?`,
  );
  const channels = db.prepare(
    'SELECT channel, location_id AS locationId, axis FROM recorded_channels WHERE run_id = ? ORDER BY channel',
  );
  const used = db.prepare('SELECT recording_id FROM recordings').pluck();
  return {
    put: db.transaction((runId: number, recording: Recording) => {
      insert.run(runId, recording.recordingId, recording.sampleRateHz, recording.fullScaleMPerS2);
      for (const { channel, locationId, axis } of recording.channels) {
        insertChannel.run(runId, channel, locationId, axis);
      }
    }),
    ofRun(runId) {
      const found = find.get(runId) as Omit<Recording, 'channels'> | undefined;
      return found === undefined ? null : { ...found, channels: channels.all(runId) as RecordedChannel[] };
    },
    inUse: () => new Set(used.all() as string[]),
  };
}
