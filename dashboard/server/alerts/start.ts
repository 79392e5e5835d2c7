import type { DashboardConfig, DashboardDeps } from '../config.ts';
import type { Live } from '../live/live.ts';
import type { NewestReadings } from '../live/newest-readings.ts';
import type { Rig } from '../rig/rig.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import { duePlans } from './due-plans.ts';
import { createAlertEngine } from './engine.ts';
import { queueMessages } from './queue.ts';
import { createAlertCourier } from './send/courier.ts';
import { type AlertSenders, createAlertSenders } from './send/senders.ts';

/** A collector that has said nothing for so long is taken for gone. */
const COLLECTOR_SILENT_MS = 15_000;

/** Everything about alerts, at work: found, kept, sent. */
export function startAlerts(from: {
  config: Omit<DashboardConfig, 'mqtt'>;
  deps: Pick<DashboardDeps, 'records' | 'log' | 'writeAlertPoints'>;
  live: Live;
  newest: NewestReadings;
  rig: Rig;
  trends: Trends;
  now(): number;
}): { senders: AlertSenders; close(): Promise<void> } {
  const { config, deps, live, newest, rig, trends, now } = from;
  const { records, log, writeAlertPoints: writePoints } = deps;
  const { site, alerts: ways = {} } = config;
  queueMessages(records, { site, hasPoints: writePoints !== undefined, now });
  const senders = createAlertSenders({
    records,
    site,
    webhooks: ways.webhooks ?? { allowOwnNetwork: false },
    mail: ways.mail ?? null,
    publish: live.publish,
    writePoints,
    now,
  });
  const { connections } = live;
  const courier = createAlertCourier({ outbox: records.alertOutbox, senders, connections, log, now });
  const engine = createAlertEngine({
    records,
    trends,
    duePlans: () => duePlans(records, trends, now()),
    lastHeardMs: (nodeId) => latest([rig.health(nodeId)?.atMs, ...endsOf(newest, nodeId)]),
    health: rig.health,
    isListening() {
      const { connected, collector } = live.state();
      return (
        connected && collector?.phase === 'live' && Math.abs(now() - collector.atMs) <= COLLECTOR_SILENT_MS
      );
    },
    log,
    now,
  });
  return {
    senders,
    async close() {
      await engine.close();
      await courier.close();
      senders.close();
    },
  };
}

function endsOf(newest: NewestReadings, nodeId: string): number[] {
  return newest.ofNode(nodeId).map(({ startMs, durationS }) => startMs + 1000 * durationS);
}

function latest(times: readonly (number | undefined)[]): number | null {
  const known = times.filter((time) => time !== undefined);
  return known.length === 0 ? null : Math.max(...known);
}
