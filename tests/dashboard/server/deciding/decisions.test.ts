import { Value } from 'typebox/value';
import { describe, expect, it } from 'vitest';
import { trend } from '../../../../collector/index.ts';
import {
  type Believed,
  Decision,
  DecisionAnswer,
  type DecisionFigures,
  DecisionSupport,
} from '../../../../dashboard/contract/decisions.ts';
import { kindOfWords } from '../../../../dashboard/server/deciding/part-kind.ts';
import type { Cause } from '../../../../dashboard/server/records/alerts.ts';
import { NODE_A, NOON_MS, testApp } from '../support.ts';
import { addPastRuns, busWithSensor, DAY_MS, scatter, workOut } from '../weeks/past-runs.ts';

const sure = (value: number): Believed => ({ low: value, middle: value, high: value });
const about = (low: number, middle: number, high: number): Believed => ({ low, middle, high });

/**
 * Worked by hand, in crowns. Kept 36 months at 40 000 km a year; labour 600 an hour; a breakdown costs 9000 besides (6000
 * to 15 000), the repair after it 20 000; a later planned repair 12 000.
 *
 *   Repair now: 8000 + 5 h x 600 + 1000 = 12 000 at once. Guarantee 24 months or 60 000 km: the distance is driven in
 *     18 months, which are half of 36. 4 % x (9000 + 0.5 x 20 000) = 760; expected 12 760. With a breakdown
 *     12 000 + 19 000 = 31 000. Low 4 % x (6000 + 10 000) = 640 -> 12 640; high 4 % x (15 000 + 10 000) = 1000 -> 13 000.
 *   Used part: 3000 + 5 x 600 + 1000 = 7000; no guarantee; 20 % x 29 000 = 5800; expected 12 800
 *     (low 20 % x 26 000 = 5200 -> 12 200; high 20 % x 35 000 = 7000 -> 14 000).
 *   Watch: 0 at once; 30 % x 29 000 = 8700 and 25 % x 12 000 = 3000; expected 11 700
 *     (low 10 % x 26 000 + 3000 = 5600; high 50 % x 35 000 + 3000 = 20 500).
 *   Break-even of watching: against the repair (12 760 - 3000) / 29 000 = 33.66 %; against the used part
 *     (12 800 - 3000) / 29 000 = 33.79 %.
 */
const figuresOf = (locationId: number): DecisionFigures => ({
  locationId,
  part: 'drive-train',
  currency: 'crowns',
  labourPerHour: sure(600),
  keptMonths: 36,
  usePerYearKm: 40_000,
  breakdownBesides: about(6000, 9000, 15_000),
  repairAfterBreakdown: sure(20_000),
  laterRepair: sure(12_000),
  options: [
    {
      name: 'Repair now',
      kind: 'repair-now',
      parts: sure(8000),
      labourHours: sure(5),
      besides: sure(1000),
      breakdownChance: sure(0.04),
      warranty: { months: 24, distanceKm: 60_000 },
      laterRepairChance: sure(0),
    },
    {
      name: 'Used part',
      kind: 'used-part',
      parts: sure(3000),
      labourHours: sure(5),
      besides: sure(1000),
      breakdownChance: sure(0.2),
      warranty: null,
      laterRepairChance: sure(0),
    },
    {
      name: 'Keep driving and watch',
      kind: 'watch',
      parts: sure(0),
      labourHours: sure(0),
      besides: sure(0),
      breakdownChance: about(0.1, 0.3, 0.5),
      warranty: null,
      laterRepairChance: sure(0.25),
    },
  ],
});

async function station() {
  const test = await testApp();
  const { cookie } = await test.as('technician');
  const { asset, place } = busWithSensor(test);
  const wheel = test.store.assets.addLocation(asset.id, {
    name: 'Left wheel bearing',
    component: 'Rear axle',
  });
  const send = (method: 'GET' | 'POST', url: string, body?: unknown) =>
    test.call(method, url, { cookie, body });
  const url = `/api/assets/${asset.id}`;
  return { ...test, asset, place, wheel, send, url };
}

describe('the costs of each option', () => {
  it('are those worked by hand', async () => {
    const { send, url, place } = await station();
    const { json } = await send('POST', `${url}/decision-costs`, figuresOf(place.id));
    expect(Value.Check(DecisionAnswer, json), JSON.stringify(json)).toBe(true);
    const answer = json as DecisionAnswer;
    const rounded = answer.options.map(({ expected: { low, middle, high } }) =>
      [low, middle, high].map(Math.round),
    );
    expect(rounded).toEqual([
      [12_640, 12_760, 13_000],
      [12_200, 12_800, 14_000],
      [5600, 11_700, 20_500],
    ]);
    expect(answer.options[0]).toMatchObject({
      atOnce: sure(12_000),
      withoutBreakdown: 12_000,
      withBreakdown: 31_000,
      coveredShare: 0.5,
    });
    expect(answer.breakEvens.map(({ chance }) => chance!.toFixed(4))).toEqual(['0.3366', '0.3379']);
    expect(answer.caution).toBeNull();
    expect(answer.sentences).toEqual([
      'Over 36 months, “Keep driving and watch” has the lowest expected cost by these figures: 11,700 crowns (5,600 to 20,500 crowns).',
      'Its range overlaps that of “Repair now” and “Used part”: these figures alone do not decide between them.',
    ]);
    expect(answer.breakEvens[0]!.sentence).toBe(
      '“Keep driving and watch” costs less than “Repair now” while the chance of a breakdown within 36 months is below 34 %. Your figure is 10 % to 50 %, which lies on both sides of it, so these figures do not decide.',
    );
  });

  it('names the figure that cannot be used', async () => {
    const { send, url, place } = await station();
    const wrong = figuresOf(place.id);
    wrong.options[2]!.breakdownChance = about(0.6, 0.3, 0.5);
    expect((await send('POST', `${url}/decision-costs`, wrong)).json).toMatchObject({
      code: 'VALIDATION_FAILED',
      message: expect.stringMatching(
        /Keep driving and watch: breakdownChance: low, middle and high must rise/,
      ),
    });
    const twice = figuresOf(place.id);
    twice.options[1]!.name = 'Repair now';
    expect((await send('POST', `${url}/decision-costs`, twice)).json.message).toMatch(/same name/);
    const nothing = { ...figuresOf(place.id), currency: ' ' };
    expect((await send('POST', `${url}/decision-costs`, nothing)).json).toMatchObject({ field: 'currency' });
  });
});

describe('a decision', () => {
  it('is kept with who, what, when and the figures it stood on, newest first', async () => {
    const { send, url, place, store } = await station();
    const request = {
      figures: figuresOf(place.id),
      chosen: 'Keep driving and watch',
      decidedBy: 'Depot head',
      decidedMs: NOON_MS - DAY_MS,
      note: 'Until the spring timetable',
      refusal: null,
    };
    const { json, status } = await send('POST', `${url}/decisions`, request);
    expect(status, JSON.stringify(json)).toBe(200);
    expect(Value.Check(Decision, json)).toBe(true);
    expect(json).toMatchObject({
      chosen: 'Keep driving and watch',
      decidedBy: 'Depot head',
      decidedMs: NOON_MS - DAY_MS,
      enteredBy: 'technician person',
      enteredMs: NOON_MS,
      location: 'Output bearing',
      note: 'Until the spring timetable',
      refusal: null,
    });
    await send('POST', `${url}/decisions`, { ...request, chosen: 'Repair now' });
    store.assets.removeLocation(place.id);
    const list = (await send('GET', `${url}/decisions`)).json as Decision[];
    expect(list.map(({ chosen, locationId, location }) => [chosen, locationId, location])).toEqual([
      ['Repair now', null, 'Output bearing'],
      ['Keep driving and watch', null, 'Output bearing'],
    ]);
    expect(list[1]!.answer.options[2]!.expected.middle).toBeCloseTo(11_700, 6);
  });

  it('is refused for what was not among the options, or lies in the future', async () => {
    const { send, url, place } = await station();
    const request = { figures: figuresOf(place.id), chosen: 'Pray', decidedBy: 'A', note: '', refusal: null };
    expect((await send('POST', `${url}/decisions`, request)).json).toMatchObject({ field: 'chosen' });
    const later = { ...request, chosen: 'Repair now', decidedMs: NOON_MS + DAY_MS };
    expect((await send('POST', `${url}/decisions`, later)).json).toMatchObject({ field: 'decidedMs' });
  });

  it('to wait with a wheel bearing needs the refusal of the advice, word for word, by name', async () => {
    const { send, url, wheel } = await station();
    // Whatever the person calls the part: the location's own words stand.
    const figures = figuresOf(wheel.id);
    const { json: answer } = await send('POST', `${url}/decision-costs`, figures);
    expect(answer.caution).toBe(trend.DO_NOT_DEFER);
    const request = {
      figures,
      chosen: 'Keep driving and watch',
      decidedBy: 'Owner',
      note: '',
      refusal: null,
    };
    const refused = await send('POST', `${url}/decisions`, request);
    expect(refused.json.code).toBe('SAFETY_ADVICE_UNANSWERED');
    const inexact = { ...request, refusal: { name: 'Kim Owner', textShown: 'Do not put this off.' } };
    expect((await send('POST', `${url}/decisions`, inexact)).json.code).toBe('SAFETY_ADVICE_UNANSWERED');
    const exact = { ...request, refusal: { name: 'Kim Owner', textShown: answer.caution } };
    expect((await send('POST', `${url}/decisions`, exact)).json.refusal).toEqual({
      name: 'Kim Owner',
      textShown: trend.DO_NOT_DEFER,
      atMs: NOON_MS,
    });
    // Who repairs refuses nothing.
    const repaired = await send('POST', `${url}/decisions`, { ...exact, chosen: 'Repair now' });
    expect(repaired.json.refusal).toBeNull();
  });
});

describe('whether waiting may be weighed', () => {
  it.each([
    ['Left wheel bearing Rear axle', 'wheel-bearing'],
    ['Hub Rear axle', 'wheel-bearing'],
    ['Tie-rod end Front axle', 'steering'],
    ['Caliper Front left', 'brake'],
    ['Lower arm bush Front axle', 'structural'],
    ['Front subframe Body', 'structural'],
    ['Output bearing Gearbox', 'other'],
    ['Pinion bearing Rear axle', 'other'],
    ['Steering box Frame', 'steering'],
  ])('%s is %s', (words, kind) => {
    expect(kindOfWords(words)).toBe(kind);
  });

  it('is told by the drive train and by the person as well as by the name', async () => {
    const { send, asset, place, store } = await station();
    const ask = async (query = '') =>
      (await send('GET', `/api/locations/${place.id}/decision-support${query}`)).json as DecisionSupport;
    expect((await ask()).caution).toBeNull();
    expect((await ask('?part=steering')).caution).toMatch(/^Do not put this off/);
    store.driveTrains.put(asset.id, {
      nominalSpeedRpm: null,
      shafts: ['axle shaft'],
      couplings: [],
      universalJoints: [],
      blades: [],
      tyre: { size: '205/65 R16', shaft: 'axle shaft' },
      vehicleSpeeds: {},
      bearings: [{ locationId: place.id, shaft: 'axle shaft', bearing: '6205', outerRing: 'standing' }],
    });
    expect(await ask()).toMatchObject({ part: 'wheel-bearing', caution: expect.stringMatching(/licensed/) });
  });
});

describe('what the measurements support', () => {
  async function supported(growth: (day: number) => number, keptMonths: number) {
    const one = await station();
    await addPastRuns(
      one,
      one.asset.id,
      Array.from({ length: 60 }, (_, k) => {
        const day = Math.floor((k * 7) / 3);
        return { day, speedKmH: 54, velocityRmsMmPerS: growth(day) * scatter(k) };
      }),
    );
    await workOut(one);
    const url = `/api/locations/${one.place.id}/decision-support?keptMonths=${keptMonths}`;
    const { json } = await one.send('GET', url);
    expect(Value.Check(DecisionSupport, json), JSON.stringify(json)).toBe(true);
    return json as DecisionSupport;
  }

  it('is a rise and a date where the data carry them, and never a chance of a breakdown', async () => {
    const { supports, cannotSay } = await supported((day) => (day < 60 ? 1 : 1 + ((day - 60) / 95) ** 2), 24);
    expect(supports.join(' ')).toMatch(/rises by .* a week/);
    expect(supports.join(' ')).toMatch(/By the forecast the limit is reached well within the kept period/);
    expect(cannotSay.join(' ')).toMatch(/the limit is not the breakdown/);
    expect(cannotSay.join(' ')).toMatch(/The chance of a breakdown: no vibration level gives one/);
    expect(cannotSay.join(' ')).toMatch(/nobody has looked into the samples/);
  });

  it('cannot say yet where nothing rises', async () => {
    const { supports, cannotSay } = await supported(() => 1, 24);
    expect(supports.join(' ')).toMatch(/no more than the own scatter explains/);
    expect(cannotSay[0]).toMatch(/cannot be said yet: no rise that stands out from chance/);
  });

  it('name an alert on another value than the trend shows', async () => {
    const { store, asset, place, send } = await station();
    const cause: Cause = {
      key: 'trend/1/change',
      about: 'change',
      assetId: asset.id,
      locationId: place.id,
      nodeId: null,
      quantity: 'accelerationRmsMPerS2',
      detail: '',
      value: 1.61,
      limit: 1.25,
      unit: 'ratio',
      falseAlarmsPerYear: 0.05,
      sinceMs: NOON_MS - 5 * DAY_MS,
      seenMs: NOON_MS - DAY_MS,
    };
    store.alerts.settle('trend/1/', [cause], NOON_MS, 'normal-again');
    const { json } = await send('GET', `/api/locations/${place.id}/decision-support`);
    expect((json as DecisionSupport).supports).toContainEqual(
      expect.stringMatching(
        /^An alert stands since .*: acceleration RMS has risen to 1\.61 times its baseline\.$/,
      ),
    );
  });

  it('cannot say anything before a measurement, and takes a look that is not clear for what it is', async () => {
    const { send, place, store } = await station();
    const ask = async () =>
      (await send('GET', `/api/locations/${place.id}/decision-support`)).json as DecisionSupport;
    const before = await ask();
    expect(before.supports).toEqual([]);
    expect(before.cannotSay[0]).toMatch(/^No run of this vehicle has given a level here yet/);
    const look = {
      locationId: place.id,
      atMs: NOON_MS,
      startMs: NOON_MS,
      durationS: 10,
      sampleRateHz: 3200,
      nodeId: NODE_A,
      sensor: 0,
      by: null,
      axis: 'x' as const,
      speedRpm: 1500,
      speedSource: 'typed' as const,
      shaft: 'shaft',
      bearing: '6205',
      findings: [],
    };
    store.findings.add({ ...look, verdict: 'not-clear', reason: 'two parts fit alike' }, '');
    expect((await ask()).cannotSay.join(' ')).toMatch(/Which part it is\. .*: Two|Two parts fit alike/);
    store.findings.add({ ...look, verdict: 'outer', reason: 'line found' }, '');
    const after = await ask();
    expect(after.supports[0]).toMatch(/Looked at on 1 January 2025: Outer race of bearing 6205 stands out\./);
    expect(after.cannotSay.join(' ')).toMatch(/How large the damage is/);
  });
});
