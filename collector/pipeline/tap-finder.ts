import type { NodeEvent } from '../../firmware-protocol/index.ts';
import type { Reading } from '../model.ts';
import { findTap, type RecentPeaks, type Tap } from '../rig/tap.ts';
import { type ExchangePoint, placeClock } from '../timeline/clock-map.ts';

/** Taps among what nodes send, as long as it is fresh: a tap is for somebody who stands there. */
export interface TapFinder {
  inReading(reading: Reading, nowUs: number): Tap[];
  inEvent(event: NodeEvent, arrivedAtUs: number, exchanges: readonly ExchangePoint[]): Tap[];
  forget(nodeId: string): void;
}

const FRESH_US = 10e6;
/** Events remembered of one node, against those that come twice. */
const MOST_EVENTS = 8;

export function createTapFinder(): TapFinder {
  const peaks = new Map<string, Map<number, RecentPeaks>>();
  const events = new Map<string, string[]>();

  function recentOf({ nodeId, sensor }: Reading): RecentPeaks {
    const sensors = peaks.get(nodeId) ?? new Map<number, RecentPeaks>();
    peaks.set(nodeId, sensors);
    const recent = sensors.get(sensor) ?? [];
    sensors.set(sensor, recent);
    return recent;
  }

  function isRepeat({ nodeId, bootId, eventCount }: NodeEvent): boolean {
    const known = events.get(nodeId) ?? [];
    events.set(nodeId, known);
    const key = `${bootId}/${eventCount}`;
    if (known.includes(key)) return true;
    known.push(key);
    if (known.length > MOST_EVENTS) known.shift();
    return false;
  }

  return {
    inReading(reading, nowUs) {
      if (Math.abs(nowUs - reading.startMs * 1000) > FRESH_US) return [];
      const tap = findTap(recentOf(reading), reading);
      return tap === null ? [] : [tap];
    },
    inEvent(event, arrivedAtUs, exchanges) {
      if (event.event !== 'tap' || isRepeat(event)) return [];
      const nodeUs = Number(event.nodeClockUs);
      const atUs = exchanges.length === 0 ? arrivedAtUs : nodeUs + placeClock(exchanges, nodeUs).offsetUs;
      if (Math.abs(arrivedAtUs - atUs) > FRESH_US) return [];
      return [
        {
          nodeId: event.nodeId,
          sensor: event.sensor,
          atMs: Math.round(atUs / 1000),
          peakMPerS2: event.value === 0 ? null : event.value / 1000,
          source: 'node',
          atRest: null,
        },
      ];
    },
    forget(nodeId) {
      peaks.delete(nodeId);
      events.delete(nodeId);
    },
  };
}
