import { describe, expect, it } from 'vitest';
import type { Cause } from '../../../../dashboard/server/records/alerts.ts';
import { records } from '../support.ts';

const cause = (change: Partial<Cause> = {}): Cause => ({
  key: 'trend/1/change',
  about: 'change',
  assetId: null,
  locationId: null,
  nodeId: null,
  quantity: 'velocityRmsMmPerS',
  detail: '',
  value: 1.5,
  limit: 1.3,
  unit: 'ratio',
  falseAlarmsPerYear: 0.1,
  sinceMs: 1,
  seenMs: 2,
  ...change,
});
const ALL = { state: 'all', limit: 100 } as const;

describe('the records of alerts', () => {
  it('keep one open alert of a cause, and tell of changes only when something has changed', () => {
    const { alerts, onChange } = records();
    let told = 0;
    onChange(({ kind }) => {
      if (kind === 'alerts') told += 1;
    });
    const events: string[] = [];
    alerts.onEvent((event, { id }) => void events.push(`${event} ${id}`));
    alerts.settle('trend/1/', [cause()], 10, 'normal-again');
    alerts.settle('trend/1/', [cause()], 11, 'normal-again');
    expect(told).toBe(1);
    alerts.settle('trend/1/', [cause({ value: 1.6, seenMs: 3 })], 12, 'normal-again');
    expect(told).toBe(2);
    alerts.settle('trend/2/', [], 13, 'normal-again');
    alerts.settle(
      'trend/1/',
      [cause({ value: 1.7 }), cause({ key: 'trend/1/B/C', about: 'zone' })],
      14,
      'normal-again',
    );
    expect(events).toEqual(['raised 1', 'raised 2']);
    expect(alerts.list(ALL)).toMatchObject([
      { id: 2, raisedMs: 14 },
      { id: 1, raisedMs: 10, value: 1.7, sinceMs: 1 },
    ]);
    alerts.settle('trend/1/', [cause()], 15, ({ about }) =>
      about === 'zone' ? 'no-longer-compared' : 'normal-again',
    );
    expect(alerts.alert(2)).toMatchObject({ clearedMs: 15, clearedWhy: 'no-longer-compared' });
    // One scope is not the beginning of another's name.
    alerts.settle('trend/1', [], 16, 'normal-again');
    alerts.settle('trend/11/', [cause({ key: 'trend/11/change' })], 17, 'normal-again');
    alerts.settle('trend/1/', [], 18, 'normal-again');
    expect(alerts.list({ state: 'open', limit: 100 }).map(({ cause: of }) => of)).toEqual([
      'trend/11/change',
    ]);
  });

  it('keep an alert only together with what is to be sent of it', () => {
    const { alerts } = records();
    alerts.onEvent(() => {
      throw new Error('the disk is full');
    });
    expect(() => alerts.settle('trend/1/', [cause()], 10, 'normal-again')).toThrow('the disk is full');
    expect(alerts.list(ALL)).toEqual([]);
    expect(() =>
      alerts.together(() => {
        alerts.putState('looks', 7);
        alerts.settle('trend/1/', [cause()], 10, 'normal-again');
      }),
    ).toThrow('the disk is full');
    expect(alerts.state('looks')).toBeNull();
    alerts.onEvent(() => {});
    alerts.settle('trend/1/', [cause()], 10, 'normal-again');
    expect(alerts.list(ALL)).toHaveLength(1);
  });

  it('say who knows of it; a later note takes the place of an earlier one', () => {
    const { alerts } = records();
    alerts.settle('trend/1/', [cause()], 10, 'normal-again');
    alerts.acknowledge(1, 'Kim', ' looked at it ', 20);
    expect(alerts.acknowledge(1, 'Ines', 'part ordered', 30)).toMatchObject({
      acknowledgedMs: 30,
      acknowledgedBy: 'Ines',
      note: 'part ordered',
      clearedMs: null,
    });
    expect(() => alerts.acknowledge(2, 'Kim', '', 20)).toThrow('ALERT_NOT_FOUND');
  });
});
