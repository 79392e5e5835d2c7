import { Counter, collectDefaultMetrics, Gauge, Registry } from 'prom-client';
import type { Health } from '../../contract/http.ts';

/** The station's figures in the form that Prometheus reads. */
export interface StationMetrics {
  readonly contentType: string;
  /** One answered request of the HTTP interface; `route` is its pattern, never the address asked for. */
  countRequest(method: string, route: string, status: number): void;
  text(health: Health): Promise<string>;
}

/** Counters of health that are no counts but states, by the name under which they are given out. */
const STATES: Record<string, [name: string, help: string]> = {
  connectionsOpen: ['clampline_mqtt_connections', 'MQTT connections open now.'],
  journalPendingBytes: ['clampline_journal_pending_bytes', 'Bytes accepted and not yet on the disk.'],
  journalHeldBack: ['clampline_journal_held_back', 'Messages that wait until earlier ones are written.'],
  journalSegments: ['clampline_journal_segments', 'Segments of the journal.'],
  journalPinnedBytes: [
    'clampline_journal_pinned_bytes',
    'Bytes that retention leaves because a run keeps them.',
  ],
  bridgeConnected: ['clampline_bridge_connected', '1 while the other broker is connected.'],
  alertsOpen: ['clampline_alerts_open', 'Alerts that are open.'],
  alertMessagesWaiting: ['clampline_alert_messages_waiting', 'Messages of alerts that are still to be sent.'],
  'dashboard.browsers': ['clampline_browsers', 'Pages connected now.'],
};
/** Said by a metric of its own. */
const SAID_ELSEWHERE = new Set(['journalWaiting']);

/** Each set has a registry of its own, so that several servers in one process do not mix. */
export function createStationMetrics(): StationMetrics {
  const register = new Registry();
  collectDefaultMetrics({ register });
  const gauge = (name: string, help: string, labelNames: string[] = []) =>
    new Gauge({ name, help, labelNames, registers: [register] });
  const ok = gauge('clampline_ok', '1 when the station is in order.');
  const states = new Map(Object.entries(STATES).map(([key, [name, help]]) => [key, gauge(name, help)]));
  const journalBytes = gauge('clampline_journal_bytes', 'Size of the journal on disk.');
  const freeBytes = gauge('clampline_journal_disk_free_bytes', 'Room left on the disk of the journal.');
  const waiting = gauge('clampline_journal_waiting', '1 while the disk refuses what is to be kept.');
  const phase = gauge('clampline_collector_phase', '1 for what the collector does now.', ['phase']);
  const lag = gauge('clampline_collector_lag_seconds', 'How far measuring is behind arrival.');
  const newest = gauge(
    'clampline_collector_newest_reading_timestamp_seconds',
    'Event time of the newest reading.',
  );
  const fed = gauge(
    'clampline_dashboard_broker_connected',
    '1 while the dashboard is connected to the broker.',
  );
  const events = new Counter({
    name: 'clampline_events_total',
    help: 'What happened since the start of each part, by part and kind.',
    labelNames: ['part', 'event'],
    registers: [register],
  });
  const requests = new Counter({
    name: 'clampline_http_requests_total',
    help: 'Answered HTTP requests.',
    labelNames: ['method', 'route', 'status'],
    registers: [register],
  });

  /** A value that is not known now is left out rather than kept from before. */
  function set(metric: Gauge, value: number | null | undefined): void {
    metric.reset();
    if (value === null || value === undefined) metric.remove();
    else metric.set(value);
  }

  function take({ ok: well, journal, collector, mqtt, counters }: Health): void {
    set(ok, Number(well));
    set(journalBytes, journal.bytes);
    set(freeBytes, journal.freeBytes);
    set(waiting, Number(journal.waiting));
    set(lag, collector.lagMs === null ? null : collector.lagMs / 1000);
    set(newest, collector.lastReadingMs === null ? null : collector.lastReadingMs / 1000);
    set(fed, mqtt === undefined ? null : Number(mqtt.connected));
    phase.reset();
    if (collector.phase !== undefined) phase.set({ phase: collector.phase }, 1);
    events.reset();
    for (const [key, state] of states) set(state, counters[key]);
    for (const [key, count] of Object.entries(counters)) {
      if (!states.has(key) && !SAID_ELSEWHERE.has(key)) events.inc(eventOf(key), count);
    }
  }

  return {
    contentType: register.contentType,
    countRequest: (method, route, status) => requests.inc({ method, route, status: String(status) }),
    text(health) {
      take(health);
      return register.metrics();
    },
  };
}

/** `collector.late` and `journalRecords` begin with their part; what has none is the broker's. */
function eventOf(key: string): { part: string; event: string } {
  const [, part, event] = /^(collector|dashboard)\.(.*)$/.exec(key) ?? [];
  if (part !== undefined && event !== undefined) return { part, event };
  const [, camel, rest] = /^(journal|bridge)([A-Z].*)$/.exec(key) ?? [];
  if (camel !== undefined && rest !== undefined) {
    return { part: camel, event: rest[0]!.toLowerCase() + rest.slice(1) };
  }
  return { part: 'broker', event: key };
}
