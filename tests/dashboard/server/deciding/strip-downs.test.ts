import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import type { FindingVerdict } from '../../../../dashboard/contract/drive-train.ts';
import { type Damage, StripDown, StripDowns } from '../../../../dashboard/contract/strip-downs.ts';
import { scoreOf, tallyOf } from '../../../../dashboard/server/deciding/score.ts';
import { NODE_A, NOON_MS, testApp } from '../support.ts';

async function station() {
  const test = await testApp();
  const { cookie } = await test.as('technician');
  const { store } = test;
  const asset = store.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
  const place = store.assets.addLocation(asset.id, { name: 'Output bearing', component: 'Gearbox' });
  const look = (verdict: FindingVerdict, atMs: number) =>
    store.findings.add(
      {
        locationId: place.id,
        atMs,
        startMs: atMs,
        durationS: 10,
        sampleRateHz: 6400,
        nodeId: NODE_A,
        sensor: 0,
        by: null,
        axis: 'x',
        speedRpm: 1500,
        speedSource: 'typed',
        shaft: 'output',
        bearing: '6205',
        verdict,
        reason: '',
        findings: [],
      },
      '',
    );
  const open = async (damage: Damage[], openedMs: number) => {
    const body = {
      locationId: place.id,
      openedMs,
      part: 'Output bearing',
      damage,
      condition: 'as seen',
      openedBy: 'Jo',
    };
    const { status, json } = await test.call('POST', `/api/assets/${asset.id}/strip-downs`, { cookie, body });
    expect(status, JSON.stringify(json)).toBe(200);
    expect(Value.Check(StripDown, json)).toBe(true);
    return json as StripDown;
  };
  const log = async (query = '') => {
    const { json } = await test.call('GET', `/api/strip-downs${query}`, { cookie });
    expect(Value.Check(StripDowns, json), JSON.stringify(json)).toBe(true);
    return json as StripDowns;
  };
  return { ...test, asset, place, look, open, log, cookie };
}

describe('the score of what had been said', () => {
  const said = (verdict: string) => ({ verdict, bearing: '6205', atMs: 1 });
  it.each([
    ['outer', ['outer'], 'right'],
    ['outer', ['inner', 'outer'], 'right'],
    ['outer', ['inner'], 'wrong'],
    ['outer', [], 'wrong'],
    ['none', [], 'right'],
    ['none', ['gear'], 'wrong'],
    ['not-clear', ['outer'], 'not-clear'],
    ['not-covered', [], 'not-covered'],
  ] as [string, Damage[], string][])('%s against %j is %s', (verdict, damage, score) => {
    expect(scoreOf(said(verdict), damage)).toBe(score);
  });

  it('is none where nothing had been said', () => {
    expect(scoreOf(null, ['outer'])).toBe('nothing-said');
  });

  it('counts only claims in the share, and says when they are few', () => {
    const tally = tallyOf(['right', 'right', 'right', 'wrong', 'not-clear', 'not-clear', 'nothing-said']);
    expect(tally).toMatchObject({ right: 3, wrong: 1, notClear: 2, notCovered: 0, nothingSaid: 1 });
    // Wilson, 3 of 4: 0.3006 to 0.9544 (scipy).
    expect(tally.sentence).toBe(
      '3 of 4 claims were right: too few to speak of a share; the true share lies between 30 % and 95 % (95 % interval of Wilson).',
    );
    const more = tallyOf([
      ...Array.from({ length: 12 }, () => 'right' as const),
      ...Array.from({ length: 5 }, () => 'wrong' as const),
    ]);
    expect(more.sentence).toBe(
      '12 of 17 claims were right, 71 %; the true share lies between 47 % and 87 % (95 % interval of Wilson).',
    );
    expect(tallyOf(['not-clear']).sentence).toBe('No claim has been put to the test yet.');
  });
});

describe('the strip-down log', () => {
  it('scores the look that stood when the part was opened, and keeps what it said', async () => {
    const { look, open, log, store, asset, place } = await station();
    look('not-clear', NOON_MS - 50_000);
    look('outer', NOON_MS - 30_000);
    look('none', NOON_MS - 10_000);
    const right = await open(['outer'], NOON_MS - 20_000);
    expect(right).toMatchObject({
      score: 'right',
      enteredBy: 'technician person',
      location: 'Output bearing',
    });
    expect(right.sentence).toBe(
      'Said on 1 January 2025: outer race of bearing 6205 stands out; damaged: outer race: right.',
    );
    const missed = await open(['outer', 'cage', 'outer'], NOON_MS);
    expect(missed).toMatchObject({ score: 'wrong', damage: ['outer', 'cage'] });
    const early = await open([], NOON_MS - 60_000);
    expect(early).toMatchObject({
      said: null,
      score: 'nothing-said',
      sentence: 'No look at the samples had been made before; found in order.',
    });
    store.assets.removeLocation(place.id);
    const { entries, tally } = await log(`?assetId=${asset.id}`);
    expect(entries.map(({ id, locationId }) => [id, locationId])).toEqual([
      [missed.id, null],
      [right.id, null],
      [early.id, null],
    ]);
    expect(tally).toMatchObject({ right: 1, wrong: 1, nothingSaid: 1 });
  });

  it('is of all assets, or one; only the shop removes an entry', async () => {
    const { open, log, call, as, store, asset } = await station();
    const entry = await open([], NOON_MS);
    const other = store.assets.add({ name: 'Bus 3', kind: 'vehicle', machineClass: 'II' });
    expect((await log()).entries).toHaveLength(1);
    expect((await log(`?assetId=${other.id}`)).entries).toEqual([]);
    const shop = await as('shop');
    expect((await call('DELETE', `/api/strip-downs/${entry.id}`, shop)).json).toEqual({ done: true });
    expect((await log(`?assetId=${asset.id}`)).entries).toEqual([]);
  });

  it('is refused for the future and for a location of another asset', async () => {
    const { call, cookie, asset, place, store } = await station();
    const body = { locationId: place.id, part: 'b', damage: [], condition: 'c', openedBy: 'd' };
    const url = (id: number) => `/api/assets/${id}/strip-downs`;
    const later = await call('POST', url(asset.id), {
      cookie,
      body: { ...body, openedMs: NOON_MS + 86_400_000 },
    });
    expect(later.json).toMatchObject({ code: 'SPAN_INVALID', field: 'openedMs' });
    const other = store.assets.add({ name: 'Bus 3', kind: 'vehicle', machineClass: 'II' });
    expect((await call('POST', url(other.id), { cookie, body })).json.code).toBe('LOCATION_NOT_FOUND');
  });
});
