/** An alert that goes while it is open is over for those who read it elsewhere too: a step of its own. */
export const ALERT_GONE_STEP = `
  DROP TRIGGER alert_is_gone;
  CREATE TRIGGER alert_is_gone AFTER DELETE ON alerts BEGIN
    DELETE FROM alert_messages WHERE alert_id = OLD.id;
    INSERT INTO alert_messages (alert_id, event, channel, body, created_ms, next_ms)
    VALUES (OLD.id, 'removed', 'mqtt', '', OLD.last_seen_ms, 0);
    INSERT INTO alert_messages (alert_id, event, channel, body, created_ms, next_ms)
    SELECT OLD.id, 'removed', 'points', json_object(
      'messageId', 'removed', 'site', '', 'event', 'cleared',
      'atMs', max(OLD.raised_ms + 1000, CAST(strftime('%s', 'now') AS INTEGER) * 1000),
      'alert', json_object('id', OLD.id, 'about', OLD.about, 'assetId', OLD.asset_id, 'locationId', OLD.location_id,
        'title', '', 'value', NULL, 'limit', NULL, 'unit', OLD.unit, 'falseAlarmsPerYear', NULL,
        'sinceMs', OLD.since_ms)), OLD.last_seen_ms, 0
    WHERE OLD.cleared_ms IS NULL;
  END;
`;

/** Alerts and what is still to be sent of them: a step of the records file's layout, never edited once released. */
export const ALERT_TABLES = `
  CREATE TABLE alerts (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    -- What it is about, to the last detail: of one cause, one alert is open at a time.
    cause TEXT NOT NULL,
    about TEXT NOT NULL,
    asset_id INTEGER REFERENCES assets (id) ON DELETE CASCADE,
    location_id INTEGER REFERENCES locations (id) ON DELETE CASCADE,
    node_id TEXT,
    quantity TEXT,
    detail TEXT NOT NULL,
    value REAL,
    limit_value REAL,
    unit TEXT NOT NULL,
    false_alarms_per_year REAL,
    since_ms INTEGER NOT NULL,
    raised_ms INTEGER NOT NULL,
    last_seen_ms INTEGER NOT NULL,
    cleared_ms INTEGER,
    cleared_why TEXT,
    acknowledged_ms INTEGER,
    acknowledged_by TEXT,
    note TEXT,
    CHECK ((cleared_ms IS NULL) = (cleared_why IS NULL))
  ) STRICT;
  CREATE UNIQUE INDEX one_open_alert_of_a_cause ON alerts (cause) WHERE cleared_ms IS NULL;
  CREATE INDEX alerts_of_asset ON alerts (asset_id, id);
  CREATE INDEX alerts_of_location ON alerts (location_id, id);

  -- How far what comes one after the other has been followed, and where each chain of persistence stands.
  CREATE TABLE alert_states (key TEXT PRIMARY KEY, state TEXT NOT NULL) STRICT;

  CREATE TABLE alert_recipients (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL CHECK (kind IN ('email', 'webhook')),
    target TEXT NOT NULL,
    secret TEXT,
    added_by TEXT NOT NULL,
    added_ms INTEGER NOT NULL,
    UNIQUE (kind, target)
  ) STRICT;

  -- Written in the same transaction as the alert: what is here was not sent yet, whatever happened to the station.
  CREATE TABLE alert_messages (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    -- Of a deleted alert, only that it is gone is still to be told: so it refers to nothing.
    alert_id INTEGER,
    event TEXT NOT NULL,
    channel TEXT NOT NULL CHECK (channel IN ('mqtt', 'points', 'email', 'webhook')),
    recipient_id INTEGER REFERENCES alert_recipients (id) ON DELETE CASCADE,
    body TEXT NOT NULL,
    created_ms INTEGER NOT NULL,
    tries INTEGER NOT NULL DEFAULT 0,
    next_ms INTEGER NOT NULL,
    done_ms INTEGER,
    outcome TEXT CHECK (outcome IN ('sent', 'given-up')),
    problem TEXT
  ) STRICT;
  CREATE INDEX alert_messages_waiting ON alert_messages (next_ms) WHERE done_ms IS NULL;
  CREATE INDEX alert_messages_of_alert ON alert_messages (alert_id);
  CREATE INDEX alert_messages_of_recipient ON alert_messages (recipient_id, id);

  CREATE TRIGGER alert_is_gone AFTER DELETE ON alerts BEGIN
    DELETE FROM alert_messages WHERE alert_id = OLD.id;
    INSERT INTO alert_messages (alert_id, event, channel, body, created_ms, next_ms)
    VALUES (OLD.id, 'removed', 'mqtt', '', OLD.last_seen_ms, 0);
  END;
`;
