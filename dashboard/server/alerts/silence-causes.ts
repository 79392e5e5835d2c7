import { type NodeHealth, trend } from '../../../collector/index.ts';
import type { AlertSettings } from '../../contract/alerts.ts';
import type { Cause } from '../records/alerts.ts';

/** A node with a mounted sensor. */
export interface HeardNode {
  nodeId: string;
  assetId: number;
  assetKind: 'vehicle' | 'machine';
  isOnRun: boolean;
  /** Since when its newest sensor has been mounted. */
  mountedMs: number;
  /** Null: never. */
  lastHeardMs: number | null;
  health: NodeHealth | null;
}

/** A watch plan that is open. */
export interface DuePlan {
  id: number;
  assetId: number;
  locationId: number | null;
  everyDays: number;
  /** End of the last run that counts; null: none since the plan began. */
  lastCountedMs: number | null;
  nextDueMs: number;
  /** Limits of the plan that the newest runs have reached, in words. */
  reached: readonly string[];
}

export const NODE_SCOPE = 'node/';
export const PLAN_SCOPE = 'plan/';
export const reachedKey = (planId: number): string => `${PLAN_SCOPE}${planId}/reached`;

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

/**
 * Nodes that are silent for longer than they may be.
 *
 * @param listeningSinceMs since when the station could have heard them: its own absence is not theirs
 */
export function quietNodes(
  nodes: readonly HeardNode[],
  settings: AlertSettings,
  listeningSinceMs: number,
  nowMs: number,
): Cause[] {
  return nodes.flatMap((node) => {
    const mayBeQuietMs = quietAllowedMs(node, settings);
    const lastMs = Math.max(node.lastHeardMs ?? node.mountedMs, node.mountedMs);
    const [silence] = trend.silences({
      nowMs,
      nodeLastSeenMs: Math.max(lastMs, listeningSinceMs),
      nodeMayBeQuietMs: mayBeQuietMs,
      lastRunMs: null,
      planFromMs: nowMs,
      planEveryMs: null,
    });
    if (silence === undefined || mayBeQuietMs === null) return [];
    return [
      {
        ...base,
        key: NODE_SCOPE + node.nodeId,
        about: 'node-quiet',
        assetId: node.assetId,
        locationId: null,
        nodeId: node.nodeId,
        limit: mayBeQuietMs / HOUR_MS,
        unit: 'h',
        sinceMs: lastMs,
        seenMs: lastMs,
      },
    ];
  });
}

/** Null: it is not meant to be heard. */
function quietAllowedMs({ assetKind, isOnRun, health }: HeardNode, settings: AlertSettings): number | null {
  // A recording ends when it ends.
  if (health?.clock.source === 'replay') return null;
  // A node that sleeps says when it will be back: three times that, for one may be lost.
  const announcedMs = 3000 * (health?.status?.nextStatusWithinS ?? 0);
  const isAlwaysOn = assetKind === 'machine' || isOnRun;
  const setMs = isAlwaysOn ? settings.machineQuietMinutes * MINUTE_MS : settings.vehicleQuietHours * HOUR_MS;
  return Math.max(announcedMs, setMs);
}

/** Measurements that are overdue, and limits of plans that are reached. */
export function planCauses(plans: readonly DuePlan[], nowMs: number): Cause[] {
  return plans.flatMap((plan) => {
    const place = { assetId: plan.assetId, locationId: plan.locationId, nodeId: null };
    const [overdue] = trend.silences({
      nowMs,
      nodeLastSeenMs: null,
      nodeMayBeQuietMs: null,
      lastRunMs: plan.nextDueMs,
      planFromMs: plan.nextDueMs,
      planEveryMs: 0,
    });
    const late: Cause[] =
      overdue === undefined
        ? []
        : [
            {
              ...base,
              ...place,
              key: `${PLAN_SCOPE}${plan.id}/overdue`,
              about: 'run-overdue',
              limit: plan.everyDays,
              unit: 'd',
              sinceMs: plan.nextDueMs,
              seenMs: plan.nextDueMs,
            },
          ];
    const reached = plan.reached.map(
      (sentence): Cause => ({
        ...base,
        ...place,
        // One for the plan: which of its limits was first changes nothing in what is to be done.
        key: reachedKey(plan.id),
        about: 'stop-limit',
        detail: sentence,
        limit: null,
        unit: '',
        sinceMs: plan.lastCountedMs ?? nowMs,
        seenMs: plan.lastCountedMs ?? nowMs,
      }),
    );
    return [...late, ...reached.slice(0, 1)];
  });
}

const base = { quantity: null, detail: '', value: null, falseAlarmsPerYear: null };
