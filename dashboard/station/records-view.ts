import Database from 'better-sqlite3';

/**
 * Read-only view of the records file through one statement, opened when it is first needed: the file belongs to the
 * dashboard server, which may make it later than others of the station start.
 */
export function openRecordsView<Parameters extends unknown[], Row>(
  file: string,
  sql: string,
): {
  /** Null while there is no file, or one without the tables asked for. */
  statement(): Database.Statement<Parameters, Row> | null;
  close(): void;
} {
  let db: Database.Database | undefined;
  let statement: Database.Statement<Parameters, Row> | undefined;
  return {
    statement() {
      if (statement !== undefined) return statement;
      try {
        db = new Database(file, { readonly: true, fileMustExist: true, timeout: 2_000 });
        statement = db.prepare<Parameters, Row>(sql);
        return statement;
      } catch (error) {
        db?.close();
        db = undefined;
        const { code, message } = error as { code?: string; message: string };
        if (code === 'SQLITE_CANTOPEN' || message.startsWith('no such table')) return null;
        throw error;
      }
    },
    close: () => void db?.close(),
  };
}
