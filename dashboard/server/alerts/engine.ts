import type { NodeHealth } from '../../../collector/index.ts';
import type { Log } from '../config.ts';
import type { AlertRecord, Cause } from '../records/alerts.ts';
import type { RecordStore } from '../records/record-store.ts';
import { createRounds, type Rounds } from '../rounds.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import { type FollowedLooks, findingCauses, findingScope, takeLook } from './finding-causes.ts';
import {
  type DuePlan,
  type HeardNode,
  NODE_SCOPE,
  PLAN_SCOPE,
  planCauses,
  quietNodes,
  reachedKey,
} from './silence-causes.ts';
import { trendCauses, trendScope, WATCHED_VALUES, whyTrendCleared } from './trend-causes.ts';

/** Turns trends, findings and silence into alerts, a little at a time. */
export type AlertEngine = Rounds;

export interface AlertEngineDeps {
  records: RecordStore;
  trends: Trends;
  /** Watch plans that are open. */
  duePlans(): DuePlan[] | Promise<DuePlan[]>;
  /** When a node was last heard, by any message or reading; null: never. */
  lastHeardMs(nodeId: string): number | null;
  health(nodeId: string): NodeHealth | null;
  /** Whether the station would hear a node that sends: broker and collector are at work. */
  isListening(): boolean;
  log: Log;
  now(): number;
  /** Time between rounds. Default 5 s. */
  tickMs?: number;
}

const TICK_MS = 5_000;
/** Of one tick, so that statistics never hold up a person's question for long. */
const MOST_LOCATIONS = 2;
const MOST_LOOKS = 200;
const SILENCE_EVERY_MS = 30_000;
/** Looks made before alerts were followed: the last day's count, older ones say nothing of now. */
const FIRST_LOOKS_MS = 86_400_000;
const LOOK_CURSOR = 'looks';

export function createAlertEngine(deps: AlertEngineDeps): AlertEngine {
  const { records, trends, log, now, tickMs = TICK_MS } = deps;
  const { alerts } = records;
  /** Locations whose trend is to be asked again: those with new runs before those that may have changed otherwise. */
  const urgent = new Set<number>();
  const later = new Set<number>(records.assets.locations().map(({ id }) => id));
  let listeningSinceMs: number | null = null;
  let silenceMs = Number.NEGATIVE_INFINITY;

  const stop = records.onChange((change) => {
    if (change.kind === 'levels') urgent.add(change.locationId);
    else if (change.kind === 'events')
      for (const { id } of records.assets.locations(change.assetId)) urgent.add(id);
    else if (change.kind === 'assets') for (const { id } of records.assets.locations()) later.add(id);
  });

  const openAlerts = () => alerts.list({ state: 'open', limit: Number.MAX_SAFE_INTEGER });

  async function trendsOf(locationId: number): Promise<void> {
    if (!records.assets.locations().some(({ id }) => id === locationId)) return;
    const own = await Promise.all(WATCHED_VALUES.map((value) => trends.of(locationId, { value })));
    alerts.settle(trendScope(locationId), trendCauses(own), now(), (alert) => whyTrendCleared(own, alert));
  }

  async function someTrends(): Promise<void> {
    for (let count = 0; count < MOST_LOCATIONS; count++) {
      const [from, id] = urgent.size > 0 ? [urgent, first(urgent)] : [later, first(later)];
      if (id === undefined) return;
      // Taken out first: what changes while the trend is worked out asks for it again.
      from.delete(id);
      later.delete(id);
      try {
        await trendsOf(id);
      } catch (error) {
        later.add(id);
        throw error;
      }
    }
  }

  /** All looks since the last time, in order, none twice: the place reached is kept with what they led to. */
  function looks(): void {
    const before = alerts.state<number>(LOOK_CURSOR);
    const fresh = records.findings.after(before ?? 0, MOST_LOOKS);
    if (fresh.length === 0) return;
    alerts.together(() => {
      for (const look of fresh) {
        if (before === null && look.atMs < now() - FIRST_LOOKS_MS) continue;
        const scope = findingScope(look.locationId);
        const followed = takeLook(alerts.state<FollowedLooks>(scope), look);
        if (followed === null) continue;
        const { assetId } = records.assets.location(look.locationId);
        alerts.putState(scope, followed);
        const causes = findingCauses(followed, { locationId: look.locationId, assetId });
        alerts.settle(scope, causes, now(), 'normal-again');
      }
      alerts.putState(LOOK_CURSOR, fresh.at(-1)!.id);
    });
  }

  async function silence(): Promise<void> {
    const nowMs = now();
    if (nowMs - silenceMs < SILENCE_EVERY_MS && nowMs >= silenceMs) return;
    silenceMs = nowMs;
    listeningSinceMs = deps.isListening() ? (listeningSinceMs ?? nowMs) : null;
    // A station that hears nobody cannot tell who is silent; it says itself that it is not well.
    if (listeningSinceMs !== null) {
      const nodes = heardNodes(deps);
      const known = new Set(nodes.map(({ nodeId }) => nodeId));
      const causes = quietNodes(nodes, records.alertRecipients.settings(), listeningSinceMs, nowMs);
      // After a start, what was silent before stays so until it is heard, or has had its time.
      const keys = new Set(causes.map(({ key }) => key));
      const kept = openAlerts().filter(({ cause, nodeId, lastSeenMs }) => {
        const node = nodes.find((one) => one.nodeId === nodeId);
        return node !== undefined && !keys.has(cause) && (node.lastHeardMs ?? node.mountedMs) <= lastSeenMs;
      });
      alerts.settle(NODE_SCOPE, [...causes, ...kept.map(asCause)], nowMs, ({ nodeId }) =>
        nodeId !== null && known.has(nodeId) ? 'heard-again' : 'no-longer-due',
      );
    }
    await plans(nowMs);
  }

  async function plans(nowMs: number): Promise<void> {
    const due = await deps.duePlans();
    const causes = planCauses(due, nowMs);
    const keys = new Set(causes.map(({ key }) => key));
    // A limit once reached has ended the waiting, whatever the next runs say: only people take that back.
    const reached = due.map(({ id }) => reachedKey(id));
    const kept = openAlerts().filter(({ cause }) => reached.includes(cause) && !keys.has(cause));
    alerts.settle(PLAN_SCOPE, [...causes, ...kept.map(asCause)], nowMs, 'no-longer-due');
  }

  const rounds = createRounds(
    async () => {
      looks();
      await silence();
      await someTrends();
    },
    tickMs,
    log,
    'alerts could not be worked out',
  );
  return {
    tick: rounds.tick,
    close() {
      stop();
      return rounds.close();
    },
  };
}

function first(set: ReadonlySet<number>): number | undefined {
  return set.values().next().value;
}

const asCause = (alert: AlertRecord): Cause => ({
  ...alert,
  key: alert.cause,
  seenMs: alert.lastSeenMs,
});

/** Nodes that may connect and have a sensor mounted. */
function heardNodes({ records, lastHeardMs, health }: AlertEngineDeps): HeardNode[] {
  const mounts = records.mounts.current();
  return records.nodes.list().flatMap(({ nodeId }) => {
    const own = mounts.filter((mount) => mount.nodeId === nodeId);
    if (own.length === 0) return [];
    const { assetId } = records.assets.location(own[0]!.locationId);
    return [
      {
        nodeId,
        assetId,
        assetKind: records.assets.asset(assetId).kind,
        isOnRun: records.runs.underWay(assetId) !== null,
        mountedMs: Math.max(...own.map(({ fromMs }) => fromMs)),
        lastHeardMs: lastHeardMs(nodeId),
        health: health(nodeId),
      },
    ];
  });
}
