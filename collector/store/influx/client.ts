import { canRetryHttpCall, HttpError, InfluxDB, setLogger } from '@influxdata/influxdb-client';
import { CollectorError } from '../../errors.ts';
import type { LevelName } from './layout.ts';
import type { CheckedInflux } from './settings.ts';

/** Writing and asking, through the official client; every failure is a CollectorError with a remedy. */
export interface InfluxClient {
  /** Writes lines of one level and settles when the database has taken them. */
  write(level: LevelName, lines: readonly string[]): Promise<void>;
  /** Rows of a Flux query, each with the name of its result under `result`. */
  query<Row>(flux: string): Promise<(Row & { result: string })[]>;
  /** Deletes what the predicate names of a level's points in [fromMs, toMs]. */
  remove(level: LevelName, fromMs: number, toMs: number, predicate: string): Promise<void>;
  bucket(level: LevelName): string;
}

// The client would print every failure, with its headers, to standard error; they are thrown as well.
setLogger({ error() {}, warn() {} });

export function createInfluxClient(settings: CheckedInflux): InfluxClient {
  const { url, token, org, timeoutMs: timeout } = settings;
  const database = new InfluxDB({ url, token, timeout });
  const queries = database.getQueryApi(org);
  const buckets: Record<LevelName, string> = {
    second: settings.bucket,
    minute: settings.minuteBucket,
    hour: settings.hourBucket,
  };

  async function run<T>(what: string, work: () => Promise<T>): Promise<T> {
    try {
      return await work();
    } catch (error) {
      throw influxError(`${what} ${new URL(url).host}`, error);
    }
  }

  return {
    bucket: (level) => buckets[level],
    write: (level, lines) =>
      run('writing to', async () => {
        // One writer a batch: what fails comes back here whole, and waits on disk rather than in memory.
        const api = database.getWriteApi(org, buckets[level], 's', {
          maxRetries: 0,
          batchSize: lines.length + 1,
          flushInterval: 0,
          maxBatchBytes: Number.MAX_SAFE_INTEGER,
        });
        if (settings.writePath !== null) api.path = `${settings.writePath}&precision=s`;
        api.writeRecords([...lines]);
        try {
          await api.flush();
        } finally {
          api.dispose();
        }
      }),
    query: (flux) =>
      run('asking', async () => {
        const rows = await queries.collectRows<{ error?: string; result: string }>(flux);
        // What fails after the answer has begun comes as a table of its own, with a status that says all is well.
        const failed = rows.find((row) => row.error !== undefined && row.result === undefined);
        if (failed !== undefined) throw new CollectorError('INFLUX_REFUSED', `asking (${failed.error})`);
        return rows as never;
      }),
    remove: (level, fromMs, toMs, predicate) =>
      run('deleting in', async () => {
        const path = `/api/v2/delete?org=${encodeURIComponent(org)}&bucket=${encodeURIComponent(buckets[level])}`;
        const body = { start: new Date(fromMs).toISOString(), stop: new Date(toMs).toISOString(), predicate };
        await database.transport.request(path, body, {
          method: 'POST',
          headers: { 'content-type': 'application/json' },
        });
      }),
  };
}

/**
 * What a bucket says of points that are older than it keeps; it has taken the others of the batch then. The first is how
 * newer versions put it, the second how older ones do (some with status 500), and how many points that were.
 */
const BEYOND_RETENTION = /dropped (\d+) points outside retention policy|retention policy dropped=(\d+)/i;

/** How many points of a refused batch were older than the bucket keeps; null when it was refused for something else. */
export function droppedAsTooOld(error: unknown): number | null {
  const cause = error instanceof CollectorError ? error.cause : error;
  if (!(cause instanceof HttpError)) return null;
  const found = BEYOND_RETENTION.exec(`${cause.message} ${cause.body ?? ''}`);
  return found === null ? null : Number(found[1] ?? found[2]);
}

function influxError(what: string, error: unknown): CollectorError {
  if (error instanceof CollectorError) return error;
  const reason = error instanceof Error ? error.message : String(error);
  const detail = `${what} (${reason.slice(0, 400)})`;
  if (!(error instanceof HttpError)) return new CollectorError('INFLUX_UNREACHABLE', detail, error);
  const { statusCode } = error;
  if (droppedAsTooOld(error) !== null) return new CollectorError('INFLUX_REFUSED', detail, error);
  if (statusCode === 401 || statusCode === 403) return new CollectorError('INFLUX_DENIED', detail, error);
  if (statusCode === 404) return new CollectorError('INFLUX_NOT_FOUND', detail, error);
  return new CollectorError(canRetryHttpCall(error) ? 'INFLUX_UNREACHABLE' : 'INFLUX_REFUSED', detail, error);
}

/** How long the server asked to be left alone; 0 when it did not. */
export function retryAfterMs(error: unknown): number {
  const cause = error instanceof CollectorError ? error.cause : error;
  // HTTP counts it in seconds; the client hands the number on as it is.
  return cause instanceof HttpError ? Math.max(0, cause.retryAfter()) * 1000 : 0;
}
