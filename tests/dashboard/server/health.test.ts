import { describe, expect, it } from 'vitest';
import type { CollectorState } from '../../../collector/index.ts';
import { stationHealth } from '../../../dashboard/server/health.ts';
import { HEALTHY, NOON_MS } from './support.ts';

const LIVE: CollectorState = {
  atMs: NOON_MS,
  phase: 'live',
  journalPosition: 1,
  lagBytes: 0,
  lagMs: 0,
  caughtUpShare: null,
  lastReadingMs: null,
  mqttConnected: true,
  counters: {},
  error: null,
};

function ok(change: Partial<CollectorState> = {}, connected = true, waiting = false) {
  const state = {
    connected,
    lastMessageMs: null,
    collector: { ...LIVE, ...change },
    broker: null,
    counters: {},
  };
  return stationHealth({ ...HEALTHY, journal: { ...HEALTHY.journal, waiting } }, state, NOON_MS).ok;
}

describe('a station is well', () => {
  it('while it measures live, or is catching up with little left', () => {
    expect(ok()).toBe(true);
    expect(ok({ phase: 'catching-up', lagMs: 5_000, caughtUpShare: 0.9 })).toBe(true);
    expect(ok({ lagMs: null })).toBe(true);
  });

  it.each([
    ['the broker is away', {}, false, false],
    ['the journal waits for space', {}, true, true],
    ['the collector is far behind', { lagMs: 60_000 }, true, false],
    ['the collector starts', { phase: 'starting' }, true, false],
    ['the collector waits', { phase: 'waiting' }, true, false],
    ['the collector has stopped', { phase: 'stopped' }, true, false],
    ['the collector is silent', { atMs: NOON_MS - 15_001 }, true, false],
    ['the collector has an error', { error: { code: 'A', message: 'b', remedy: 'c' } }, true, false],
  ] as [string, Partial<CollectorState>, boolean, boolean][])(
    'but not while %s',
    (_why, change, connected, waiting) => {
      expect(ok(change, connected, waiting)).toBe(false);
    },
  );

  it('as far as a broker in another process knows, and counts what that says', () => {
    const broker = { atMs: NOON_MS - 2_000, waiting: true, counters: { messages: 7, journalRecords: 6 } };
    const state = { connected: true, lastMessageMs: null, collector: LIVE, broker, counters: {} };
    const health = stationHealth({ ...HEALTHY, counters: {} }, state, NOON_MS);
    expect(health).toMatchObject({ ok: false, journal: { waiting: true } });
    expect(health.counters).toMatchObject(broker.counters);
    // What it said long ago is no news of now.
    const later = stationHealth({ ...HEALTHY, counters: {} }, state, NOON_MS + 15_000);
    expect(later.journal.waiting).toBe(false);
    expect(later.counters).toEqual({});
  });

  it('nor before the collector has been heard', () => {
    const state = { connected: true, lastMessageMs: null, collector: null, broker: null, counters: {} };
    expect(stationHealth(HEALTHY, state, NOON_MS).ok).toBe(false);
  });
});
