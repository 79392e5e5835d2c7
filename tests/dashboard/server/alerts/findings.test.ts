import { describe, expect, it } from 'vitest';
import { trend } from '../../../../collector/index.ts';
import type { FindingRecord, FindingVerdict } from '../../../../dashboard/contract/drive-train.ts';
import {
  type FollowedLooks,
  findingCauses,
  takeLook,
} from '../../../../dashboard/server/alerts/finding-causes.ts';
import { NODE_A, testApp } from '../support.ts';
import { engineOn } from './support.ts';

const TEN_MINUTES_MS = 600_000;
const LETTERS: Record<string, FindingVerdict> = {
  o: 'outer',
  i: 'inner',
  '.': 'none',
  '?': 'not-clear',
};

function look(
  verdict: FindingVerdict,
  startMs: number,
  chance = 1 / 600,
): Omit<FindingRecord, 'id' | 'picture'> {
  const line = { frequencyHz: 107.4, expectedHz: 107.3, harmonics: 4, falseAlarmProbability: chance };
  const isPart = verdict === 'outer' || verdict === 'inner';
  return {
    locationId: 1,
    atMs: startMs,
    startMs,
    durationS: 10,
    sampleRateHz: 12_000,
    nodeId: NODE_A,
    sensor: 0,
    by: null,
    axis: 'x',
    speedRpm: 1797,
    speedSource: 'nominal',
    shaft: 'fan shaft',
    bearing: '6205',
    verdict,
    reason: '',
    findings: isPart
      ? [{ ...line, kind: verdict, modulationDepth: null, bandHz: null, note: '', rivals: [] }]
      : [],
  };
}

/** Alerts after each of the looks, ten minutes apart. */
function follow(letters: string, everyMs = TEN_MINUTES_MS): string {
  let looks: FollowedLooks | null = null;
  return [...letters]
    .map((letter, k) => {
      looks = takeLook(looks, { ...look(LETTERS[letter]!, k * everyMs), id: k, picture: false });
      // Kept as JSON between looks.
      looks = JSON.parse(JSON.stringify(looks)) as FollowedLooks;
      return findingCauses(looks, { locationId: 1, assetId: 1 }).length;
    })
    .join('');
}

describe('a finding', () => {
  it('is an alert when three of four looks agree, and over after six that show nothing', () => {
    expect(follow('ooo')).toBe('001');
    expect(follow('oo.o')).toBe('0001');
    expect(follow('o..o..o..')).toBe('000000000');
    expect(follow('ooo.....')).toBe('00111111');
    expect(follow('ooo......')).toBe('001111110');
    expect(follow('ooo.....o.....')).toBe('00111111111111');
  });

  it('that cannot be told, or is taken for another part, neither raises nor clears', () => {
    expect(follow('oo?o')).toBe('0001');
    expect(follow('ooo??????')).toBe('001111111');
    expect(follow('oioioi')).toBe('000000');
    expect(follow('oooiii')).toBe('001112');
  });

  it('counts looks at nearly the same samples once, and looks at a speed tried out not at all', () => {
    expect(follow('oooooo', 60_000)).toBe('000000');
    const typed = { ...look('outer', 0), id: 1, picture: false, speedSource: 'typed' as const };
    expect(takeLook(null, typed)).toBeNull();
  });

  it('states how often noise alone would raise it', () => {
    let looks: FollowedLooks | null = null;
    for (let k = 0; k < 3; k++)
      looks = takeLook(looks, { ...look('outer', k * TEN_MINUTES_MS, 1 / 100), id: k, picture: false });
    const [cause] = findingCauses(looks, { locationId: 1, assetId: 1 });
    expect(cause).toMatchObject({
      about: 'finding',
      detail: 'outer race of bearing 6205',
      value: 107.4,
      unit: 'Hz',
    });
    const stated = trend.falseFindingsPerYear(1 / 100, 52_560, trend.FINDING_RULE, 0.3);
    expect(cause!.falseAlarmsPerYear).toBe(stated);
    // Independent looks would need 4 * 0.01³ of 52560; looks alike make it more.
    expect(stated).toBeGreaterThan(52_560 * 3 * 1e-6);
  });
});

describe('the engine on looks', () => {
  it('follows each once, in order, over restarts in between', async () => {
    const test = await testApp();
    const { store, time } = test;
    store.nodes.add(NODE_A, 'Fan board');
    const asset = store.assets.add({ name: 'Extraction fan', kind: 'machine', machineClass: 'I' });
    const { id: locationId } = store.assets.addLocation(asset.id, { name: 'Drive end', component: 'Motor' });
    const add = (verdict: FindingVerdict) => {
      time.advance(TEN_MINUTES_MS);
      store.findings.add({ ...look(verdict, time.now()), locationId }, '<svg/>');
    };
    const tick = async () => {
      const engine = engineOn(test);
      await engine.settle();
      await engine.stop();
      return store.alerts.list({ state: 'all', limit: 10 }).map(({ clearedMs }) => clearedMs === null);
    };
    add('outer');
    expect(await tick()).toEqual([]);
    expect(await tick()).toEqual([]);
    add('outer');
    expect(await tick()).toEqual([]);
    add('outer');
    expect(await tick()).toEqual([true]);
    expect(await tick()).toEqual([true]);
    for (let k = 0; k < 6; k++) add('none');
    expect(await tick()).toEqual([false]);
    for (let k = 0; k < 3; k++) add('outer');
    expect(await tick()).toEqual([true, false]);
    const { json } = await test.call('GET', '/api/alerts', await test.as('technician'));
    expect(json[0]).toMatchObject({
      title: 'Extraction fan, Drive end: the line of the outer race of bearing 6205 stands out',
      caution: null,
    });
    expect(json[0].rate).toMatch(/from noise alone/);
  });
});
