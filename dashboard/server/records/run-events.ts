import type { Database } from 'better-sqlite3';
import type { ManoeuvreChange, ManoeuvreId, NoiseMark, RunManoeuvre } from '../../contract/runs.ts';
import { RecordError } from './record-error.ts';

const MOST_MARKS = 2_000;
const MOST_MANOEUVRES = 500;

export interface NewMark {
  atMs: number;
  endMs: number | null;
  source: NoiseMark['source'];
  note: string;
  by: string;
  /** A node's message: one that arrives twice is one mark. */
  messageKey?: string;
}

/** What happens during a run: noise marks and manoeuvres. */
export interface RunEvents {
  marks(runId: number): NoiseMark[];
  /** Null when this message was marked already. */
  addMark(runId: number, mark: NewMark): NoiseMark | null;
  /** Throws `MARK_NOT_FOUND`. */
  changeMark(runId: number, markId: number, change: { endMs?: number; note?: string }): void;
  removeMark(runId: number, markId: number): void;
  manoeuvres(runId: number): RunManoeuvre[];
  /** Begins one now and ends the one before. */
  begin(runId: number, manoeuvre: ManoeuvreId): void;
  /** Throws `MANOEUVRE_NOT_FOUND`. */
  changeManoeuvre(runId: number, id: number, change: Partial<ManoeuvreChange>): void;
  /** Ends whatever is under way. */
  endManoeuvres(runId: number, atMs: number): void;
}

export function createRunEvents(
  db: Database,
  now: () => number,
  changed: (runId: number) => void,
): RunEvents {
  const markColumns = 'id, at_ms AS atMs, end_ms AS endMs, source, note, by_whom AS "by"';
  const columns = 'id, manoeuvre, start_ms AS startMs, end_ms AS endMs, noise, pitch';
  const sql = {
    marks: db.prepare(`SELECT ${markColumns} FROM noise_marks WHERE run_id = ? ORDER BY at_ms, id`),
    mark: db.prepare(`SELECT ${markColumns} FROM noise_marks WHERE id = ? AND run_id = ?`),
    countMarks: db.prepare('SELECT count(*) FROM noise_marks WHERE run_id = ?').pluck(),
    addMark: db.prepare(
      `INSERT OR IGNORE INTO noise_marks (run_id, at_ms, end_ms, source, note, by_whom, message_key)
       VALUES (?, ?, ?, ?, ?, ?, ?)`,
    ),
    changeMark: db.prepare('UPDATE noise_marks SET end_ms = ?, note = ? WHERE id = ?'),
    removeMark: db.prepare('DELETE FROM noise_marks WHERE id = ? AND run_id = ?'),
    all: db.prepare(`SELECT ${columns} FROM manoeuvres WHERE run_id = ? ORDER BY start_ms, id`),
    one: db.prepare(`SELECT ${columns} FROM manoeuvres WHERE id = ? AND run_id = ?`),
    count: db.prepare('SELECT count(*) FROM manoeuvres WHERE run_id = ?').pluck(),
    begin: db.prepare('INSERT INTO manoeuvres (run_id, manoeuvre, start_ms) VALUES (?, ?, ?)'),
    endAll: db.prepare('UPDATE manoeuvres SET end_ms = max(start_ms, ?) WHERE run_id = ? AND end_ms IS NULL'),
    change: db.prepare('UPDATE manoeuvres SET end_ms = ?, noise = ?, pitch = ? WHERE id = ?'),
  };

  const begin = db.transaction((runId: number, manoeuvre: ManoeuvreId) => {
    if ((sql.count.get(runId) as number) >= MOST_MANOEUVRES) throw new RecordError('TOO_MANY_RECORDS');
    sql.endAll.run(now(), runId);
    sql.begin.run(runId, manoeuvre, now());
  });

  return {
    marks: (runId) => sql.marks.all(runId) as NoiseMark[],
    addMark(runId, { atMs, endMs, source, note, by, messageKey }) {
      if ((sql.countMarks.get(runId) as number) >= MOST_MARKS) throw new RecordError('TOO_MANY_RECORDS');
      const end = endMs === null ? null : Math.max(atMs, endMs);
      const { changes, lastInsertRowid } = sql.addMark.run(
        runId,
        atMs,
        end,
        source,
        note,
        by,
        messageKey ?? null,
      );
      if (changes === 0) return null;
      changed(runId);
      return sql.mark.get(Number(lastInsertRowid), runId) as NoiseMark;
    },
    changeMark(runId, markId, change) {
      const mark = sql.mark.get(markId, runId) as NoiseMark | undefined;
      if (mark === undefined) throw new RecordError('MARK_NOT_FOUND');
      const endMs = change.endMs === undefined ? mark.endMs : Math.max(mark.atMs, change.endMs);
      sql.changeMark.run(endMs, change.note ?? mark.note, markId);
      changed(runId);
    },
    removeMark(runId, markId) {
      if (sql.removeMark.run(markId, runId).changes === 0) throw new RecordError('MARK_NOT_FOUND');
      changed(runId);
    },
    manoeuvres: (runId) => sql.all.all(runId) as RunManoeuvre[],
    begin(runId, manoeuvre) {
      begin.immediate(runId, manoeuvre);
      changed(runId);
    },
    changeManoeuvre(runId, id, { ended, noise, pitch }) {
      const found = sql.one.get(id, runId) as RunManoeuvre | undefined;
      if (found === undefined) throw new RecordError('MANOEUVRE_NOT_FOUND');
      const endMs = ended && found.endMs === null ? Math.max(found.startMs, now()) : found.endMs;
      sql.change.run(
        endMs,
        noise === undefined ? found.noise : noise,
        pitch === undefined ? found.pitch : pitch,
        id,
      );
      changed(runId);
    },
    endManoeuvres: (runId, atMs) => void sql.endAll.run(atMs, runId),
  };
}
