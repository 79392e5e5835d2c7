import { expect, it } from 'vitest';
import { freshness } from '../../../dashboard/web/state/freshness.ts';

const startMs = new Date(2025, 10, 25, 14, 2, 10).getTime();
const reading = { startMs, durationS: 1 };
/** Text and kind, so many seconds after the block's end. */
const after = (seconds: number, connected = true) =>
  freshness(reading, startMs + 1000 + seconds * 1000, connected);

it('tells the age from the end of the second, not from its start', () => {
  expect(after(0)).toEqual({ kind: 'fresh', text: 'now' });
  expect(after(3)).toEqual({ kind: 'fresh', text: '3 s ago' });
  expect(after(5).kind).toBe('fresh');
});

it('says late after 5 s and no data after 30 s', () => {
  expect(after(5.1)).toEqual({ kind: 'late', text: 'late: 5 s ago' });
  expect(after(30).kind).toBe('late');
  expect(after(30.1)).toEqual({ kind: 'silent', text: 'no data since 14:02' });
});

it('names the day when data stopped before today', () => {
  expect(after(86_400).text).toBe('no data since 25 Nov 14:02');
});

it('claims nothing about a sensor while the station is out of reach', () => {
  expect(after(3, false)).toEqual({ kind: 'last-known', text: 'last known, 14:02' });
  expect(after(300, false).kind).toBe('last-known');
});

it('says when there never was a reading', () => {
  expect(freshness(undefined, 0, true)).toEqual({ kind: 'never', text: 'no reading yet' });
});
