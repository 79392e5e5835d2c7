import type { Database } from 'better-sqlite3';
import { DEFAULT_TURN_DEG } from '../../../collector/index.ts';
import type { StationSettings } from '../../contract/rig.ts';

/** What people set for the whole station. */
export interface StationSettingsRecord {
  read(): StationSettings;
  write(settings: StationSettings): StationSettings;
}

const TURN = 'mount-turn-deg';

export function createStationSettings(db: Database): StationSettingsRecord {
  const get = db.prepare('SELECT value FROM settings WHERE key = ?').pluck();
  const put = db.prepare('REPLACE INTO settings (key, value) VALUES (?, ?)');
  const read = () => ({ mountTurnDeg: Number(get.get(TURN) ?? DEFAULT_TURN_DEG) });
  return {
    read,
    write({ mountTurnDeg }) {
      put.run(TURN, String(mountTurnDeg));
      return read();
    },
  };
}
