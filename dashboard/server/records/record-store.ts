import { closeSync, openSync, statSync } from 'node:fs';
import Database from 'better-sqlite3';
import { type AlertOutbox, createAlertOutbox } from './alert-outbox.ts';
import { type AlertRecipients, createAlertRecipients } from './alert-recipients.ts';
import { type Alerts, createAlerts } from './alerts.ts';
import { type AssetEvents, createAssetEvents } from './asset-events.ts';
import { type Assets, createAssets } from './assets.ts';
import { type CarriedRows, createCarriedRows } from './carried/carried-rows.ts';
import { createDecisions, type Decisions } from './decisions.ts';
import { createDemoHistory, type DemoHistoryRecord } from './demo-history.ts';
import { createDriveTrains, type DriveTrains } from './drive-trains.ts';
import { createFindings, type Findings } from './findings.ts';
import { migrate } from './migrations.ts';
import { createMounts, type Mounts } from './mounts.ts';
import { createNodes, type Nodes } from './nodes.ts';
import { createOwnerLinks, type OwnerLinks } from './owner-links.ts';
import { DEFAULT_PASSWORD_COST, type PasswordCost } from './password.ts';
import { createPeople, type People } from './people.ts';
import { createPeriodLevels, type PeriodLevels } from './period-levels.ts';
import { RecordError } from './record-error.ts';
import { createRecordings, type Recordings } from './recordings.ts';
import { createRepairChecks, type RepairChecks } from './repair-checks.ts';
import { createRunEvents, type RunEvents } from './run-events.ts';
import { createRunResults, type RunResults } from './run-results.ts';
import { createRuns, type Runs } from './runs.ts';
import { createSensors, type Sensors } from './sensors.ts';
import { createSessions, type Sessions } from './sessions.ts';
import { createSetup, type Setup } from './setup.ts';
import { createStationSettings, type StationSettingsRecord } from './station-settings.ts';
import { createStretches, type Stretches } from './stretches.ts';
import { createStripDowns, type StripDowns } from './strip-downs.ts';
import { createVehicleValues, type VehicleValues } from './vehicle-values.ts';
import { createWatchPlans, type WatchPlans } from './watch-plans.ts';

export type RecordChange =
  /** Assets, locations or mounts. */
  | { kind: 'assets' }
  | { kind: 'session-closed'; sessionId: number }
  /** A run, or something that belongs to it. */
  | { kind: 'run'; runId: number; assetId: number }
  /** What a trend is made of: at one location, or at all of an asset. */
  | { kind: 'levels'; locationId: number }
  | { kind: 'events'; assetId: number }
  | { kind: 'alerts' };

/** Everything people tell the station. One writer: the process that runs the dashboard server. */
export interface RecordStore {
  readonly people: People;
  readonly setup: Setup;
  readonly sessions: Sessions;
  readonly nodes: Nodes;
  readonly assets: Assets;
  readonly mounts: Mounts;
  readonly driveTrains: DriveTrains;
  readonly findings: Findings;
  readonly runs: Runs;
  readonly runEvents: RunEvents;
  readonly vehicleValues: VehicleValues;
  readonly runResults: RunResults;
  readonly recordings: Recordings;
  /** Mounts as stretches in which the sensor sat unmoved. */
  readonly stretches: Stretches;
  readonly sensors: Sensors;
  readonly settings: StationSettingsRecord;
  readonly demoHistory: DemoHistoryRecord;
  readonly periodLevels: PeriodLevels;
  readonly assetEvents: AssetEvents;
  /** What goes with an asset from station to station. */
  readonly carried: CarriedRows;
  readonly ownerLinks: OwnerLinks;
  readonly watchPlans: WatchPlans;
  readonly decisions: Decisions;
  readonly repairChecks: RepairChecks;
  readonly stripDowns: StripDowns;
  readonly alerts: Alerts;
  readonly alertRecipients: AlertRecipients;
  readonly alertOutbox: AlertOutbox;
  /** Called after each change, whoever made it. Returns the way to stop. */
  onChange(listener: (change: RecordChange) => void): () => void;
  close(): void;
}

export interface RecordStoreOptions {
  now?: () => number;
  /** Only questions are asked; a station may be writing the file. */
  readOnly?: boolean;
  /** Lower only in tests. */
  passwordCost?: PasswordCost;
}

/** Opens or makes the records file (SQLite, write-ahead log). Throws `RECORDS_UNREADABLE` with what to do. */
export function openRecordStore(file: string, options: RecordStoreOptions = {}): RecordStore {
  const { now = Date.now, passwordCost = DEFAULT_PASSWORD_COST, readOnly = false } = options;
  const db = openDatabase(file, readOnly);
  const listeners = new Set<(change: RecordChange) => void>();
  const emit = (change: RecordChange) => {
    for (const listener of listeners) listener(change);
  };
  const assetsChanged = () => emit({ kind: 'assets' });
  const runChanged = ({ id, assetId }: { id: number; assetId: number }) =>
    emit({ kind: 'run', runId: id, assetId });
  const runs = createRuns(db, now, runChanged);
  const sessions = createSessions(db, now, (sessionId) => emit({ kind: 'session-closed', sessionId }));
  return {
    people: createPeople(db, now, passwordCost, sessions),
    setup: createSetup(db, now, passwordCost),
    sessions,
    nodes: createNodes(db, now),
    assets: createAssets(db, now, assetsChanged),
    mounts: createMounts(db, now, assetsChanged),
    driveTrains: createDriveTrains(db, assetsChanged),
    findings: createFindings(db, assetsChanged),
    runs,
    runEvents: createRunEvents(db, now, (runId) => runChanged(runs.run(runId))),
    vehicleValues: createVehicleValues(db),
    recordings: createRecordings(db),
    runResults: createRunResults(db, (runId) => runChanged(runs.run(runId))),
    stretches: createStretches(db, now, assetsChanged),
    sensors: createSensors(db, now),
    settings: createStationSettings(db),
    demoHistory: createDemoHistory(db),
    periodLevels: createPeriodLevels(db, (locationId) => emit({ kind: 'levels', locationId })),
    carried: createCarriedRows(db, now, assetsChanged),
    assetEvents: createAssetEvents(db, now, (assetId) => emit({ kind: 'events', assetId })),
    // A plan's limits are the ones a trend foresees.
    watchPlans: createWatchPlans(db, now, (assetId) => emit({ kind: 'events', assetId })),
    decisions: createDecisions(db, now),
    repairChecks: createRepairChecks(db, now),
    stripDowns: createStripDowns(db, now),
    alerts: createAlerts(db, () => emit({ kind: 'alerts' })),
    alertRecipients: createAlertRecipients(db),
    alertOutbox: createAlertOutbox(db),
    ownerLinks: createOwnerLinks(db, now),
    onChange(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close: () => db.close(),
  };
}

function openDatabase(file: string, readOnly: boolean): Database.Database {
  let db: Database.Database | undefined;
  try {
    if (readOnly) {
      db = new Database(file, { readonly: true, fileMustExist: true, timeout: 1_000 });
      // Refuses files of others; one of an earlier version is not brought up to date, but an error.
      migrate(db, file);
      return db;
    }
    // A log that is still there was left by a crash, or is in use by another part: the last to close a file takes it away.
    const wasCutOff = (statSync(`${file}-wal`, { throwIfNoEntry: false })?.size ?? 0) > 0;
    // Password hashes are for this account's eyes only; SQLite gives its side files the same mode.
    closeSync(openSync(file, 'a', 0o600));
    // There is one writer, so waiting is rare (a backup); and whoever waits here holds up the whole process.
    db = new Database(file, { timeout: 1_000 });
    // Read first: nothing is written to a file that turns out not to be ours.
    db.prepare('SELECT count(*) FROM sqlite_schema').get();
    if (wasCutOff) refuseDamage(db, file);
    migrate(db, file);
    db.pragma('journal_mode = WAL');
    // What a person enters must survive a power cut; records change rarely, so the sync costs little.
    db.pragma('synchronous = FULL');
    db.pragma('foreign_keys = ON');
    return db;
  } catch (error) {
    db?.close();
    if (error instanceof RecordError) throw error;
    const { code, message } = error as Error & { code?: unknown };
    throw new RecordError(
      'RECORDS_UNREADABLE',
      `cannot open the records file ${file}: ${message}`,
      // Nothing can be made again of what people entered: a backup is all there is.
      /^SQLITE_(CORRUPT|NOTADB)/.test(String(code))
        ? DAMAGED
        : 'Check that the folder exists, may be written and has free space.',
    );
  }
}

const DAMAGED =
  'The file is damaged: stop the station and restore a backup (clampline restore FILE), which keeps the damaged file.';

/** A power cut can leave a disk with half of what it said it wrote; found late, a backup may be damaged as well. */
function refuseDamage(db: Database.Database, file: string): void {
  const damage = damageOf(db);
  if (damage.length === 0) return;
  throw new RecordError(
    'RECORDS_UNREADABLE',
    `the records file ${file} was not closed properly and its check found damage: ${damage.join('; ')}`,
    DAMAGED,
  );
}

function damageOf(db: Database.Database): string[] {
  try {
    const found = db.pragma('quick_check(3)') as Record<string, string>[];
    return found.flatMap(Object.values).filter((line) => line !== 'ok');
  } catch (error) {
    // Damage can stop the check itself.
    if ((error as { code?: unknown }).code !== 'SQLITE_CORRUPT') throw error;
    return [(error as Error).message];
  }
}
