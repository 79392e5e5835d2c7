import type Database from 'better-sqlite3';

/** Up to which second rows of a level have been deleted, as kept in the file. */
export interface Horizon {
  second(): number;
  raise(second: number): void;
}

export function lastingHorizon(db: Database.Database, key: string): Horizon {
  const get = db.prepare<[string], number>('SELECT value FROM meta WHERE key = ?').pluck();
  const set = db.prepare(
    'INSERT INTO meta VALUES (?, ?) ON CONFLICT DO UPDATE SET value = max(value, excluded.value)',
  );
  let known = get.get(key) ?? Number.NEGATIVE_INFINITY;
  return {
    second: () => known,
    raise(second) {
      if (second <= known) return;
      known = second;
      set.run(key, second);
    },
  };
}
