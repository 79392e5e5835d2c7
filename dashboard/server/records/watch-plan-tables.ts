/** Watch plans: a step of the records file's layout, never edited once released. */
export const WATCH_PLAN_TABLES = `
  CREATE TABLE watch_plans (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    asset_id INTEGER NOT NULL REFERENCES assets (id) ON DELETE CASCADE,
    -- Null: the asset as a whole.
    location_id INTEGER REFERENCES locations (id) ON DELETE CASCADE,
    -- What was agreed, as JSON.
    plan TEXT NOT NULL,
    started_ms INTEGER NOT NULL,
    started_by TEXT NOT NULL,
    ended_ms INTEGER,
    ended_by TEXT,
    end_reason TEXT,
    CHECK ((ended_ms IS NULL) = (end_reason IS NULL))
  ) STRICT;
  CREATE INDEX watch_plans_of_asset ON watch_plans (asset_id, id);
  CREATE UNIQUE INDEX one_open_plan_of_a_place ON watch_plans (asset_id, ifnull(location_id, 0)) WHERE ended_ms IS NULL;
`;
