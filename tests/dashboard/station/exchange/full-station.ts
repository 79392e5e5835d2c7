import { cpSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { inquiry } from '../../../../collector/index.ts';
import { openSqliteStore } from '../../../../collector/store/sqlite-store.ts';
import { createSources, openRecordStore } from '../../../../dashboard/server/index.ts';
import { journalOf } from '../../../collector/capture/journal-of.ts';
import { AXLE_BOARD, GEARBOX_BOARD, noisyRun } from '../../../support/noisy-run.ts';
import { reading } from '../../server/stored-readings.ts';

export const BEGIN_MS = 1_760_000_400_000;
const summary = { used: 40, leftOutShare: 0.1, median: 2.5, mad: 0.1, medianSd: 0.02, refused: null };
const summaries = {
  velocityRmsMmPerS: summary,
  accelerationRmsMPerS2: summary,
  accelerationPeakMPerS2: { ...summary, median: null, refused: 'too-few-readings' as const },
  crestFactor: summary,
  kurtosis: summary,
};

/**
 * A station's data folder with one of everything that belongs to an asset, and another asset before it, so that nothing
 * has the same number elsewhere. Samples are real, in a journal; the comparison is made from them.
 */
export async function makeFullStation(dataDir: string): Promise<{ bus: number; runId: number }> {
  mkdirSync(dataDir, { recursive: true });
  const journal = await journalOf(noisyRun(BEGIN_MS / 1000));
  cpSync(journal.dir, join(dataDir, 'journal'), { recursive: true });
  await journal.remove();

  let nowMs = BEGIN_MS;
  const store = openRecordStore(join(dataDir, 'records.sqlite'), { now: () => nowMs });
  store.nodes.add(AXLE_BOARD, 'Axle board');
  store.nodes.add(GEARBOX_BOARD, 'Gearbox board');
  const other = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  store.assets.addLocation(other.id, { name: 'Hub', component: 'Front axle' });
  store.runs.addPast({ assetId: other.id, kind: 'road' }, 'Jo', BEGIN_MS - 9e6, BEGIN_MS - 8e6);
  store.assetEvents.add(other.id, { kind: 'note', note: 'not to be carried' }, 'Jo');

  const bus = store.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
  const [pinion, wheel, output] = [
    ['Pinion bearing', 'Rear axle'],
    ['Wheel bearing', 'Rear axle'],
    ['Output bearing', 'Gearbox'],
  ].map(([name, component]) => store.assets.addLocation(bus.id, { name: name!, component: component! }).id);
  store.mounts.put(pinion!, { nodeId: AXLE_BOARD, sensor: 0 });
  store.mounts.put(wheel!, { nodeId: AXLE_BOARD, sensor: 1 });
  store.mounts.put(output!, { nodeId: GEARBOX_BOARD, sensor: 0 });
  store.sensors.put(AXLE_BOARD, 0, {
    part: 'A-1',
    serial: '77',
    noiseDensityUmPerS2PerRtHz: 800,
    tolerancePct: 5,
  });
  store.sensors.addCheck(AXLE_BOARD, 0, {
    scale: [1.001, 0.999, 1],
    offsetMPerS2: [0.01, 0, -0.02],
    residualMPerS2: null,
    positions: 6,
    tolerancePct: 1.2,
  });
  store.sensors.addShakerCheck(AXLE_BOARD, 0, {
    reference: { frequencyHz: 159.2, accelerationRmsMPerS2: 10, tolerancePct: 3 },
    axis: 'z',
    seconds: 10,
    measuredRmsMPerS2: 10.1,
    deviationPct: 1,
    spreadPct: 0.2,
    tolerancePct: 4.1,
  });
  store.driveTrains.put(bus.id, {
    ...store.driveTrains.of(bus.id),
    nominalSpeedRpm: 1800,
    shafts: ['pinion shaft'],
    bearings: [pinion!, wheel!].map((locationId) => ({
      locationId,
      shaft: 'pinion shaft',
      bearing: '6205',
      outerRing: 'standing' as const,
    })),
  });

  const complaint = { description: 'Hum uphill, "grrr"\n', when: 'above 60' };
  const run = store.runs.start({ assetId: bus.id, kind: 'road', odometerKm: 123_456.5, complaint }, 'Kim');
  store.runs.change(run.id, {
    checks: [{ id: 'fluid', state: 'in-order', note: 'full' }],
    outcome: 'reproduced',
    notes: 'wet road',
  });
  const mark = { source: 'button', note: 'there', by: 'Kim' } as const;
  store.runEvents.addMark(run.id, { ...mark, atMs: BEGIN_MS + 21_000, endMs: BEGIN_MS + 34_000 });
  store.runEvents.addMark(run.id, { ...mark, atMs: BEGIN_MS + 40_000, endMs: null, messageKey: 'n1/7' });
  store.runEvents.begin(run.id, 'steady-cruise');
  nowMs += 20_000;
  store.runEvents.begin(run.id, 'pull-under-load');
  const [, pull] = store.runEvents.manoeuvres(run.id);
  store.runEvents.changeManoeuvre(run.id, pull!.id, { noise: 'present', pitch: 'same' });
  store.vehicleValues.add(
    run.id,
    Array.from({ length: 50 }, (_, i) => ({
      quantity: i % 2 === 0 ? ('roadSpeedKmH' as const) : ('engineSpeedRpm' as const),
      atMs: BEGIN_MS + i * 1000,
      value: i * 1.37,
    })),
  );
  nowMs += 40_000;
  store.runEvents.endManoeuvres(run.id, nowMs);
  store.runs.end(run.id);

  const sources = createSources(store, { journalDir: join(dataDir, 'journal') }, () => nowMs);
  const source = sources.ofRun(store.runs.run(run.id));
  const span = { fromMs: BEGIN_MS, toMs: nowMs };
  const comparison = await inquiry.answer('compare', {
    source,
    span,
    marks: store.runEvents.marks(run.id),
    conditions: [],
  });
  store.runResults.put(run.id, 'compare', {
    madeMs: nowMs,
    request: { manoeuvreId: pull!.id },
    ...comparison,
  });
  for (const locationId of [pinion!, wheel!]) {
    const level = { locationId, fromMs: BEGIN_MS, toMs: nowMs, bin: 'cruise', readings: 60, summaries };
    store.periodLevels.put(locationId, run.id, BEGIN_MS, [{ ...level, runId: run.id }]);
  }
  store.periodLevels.noteEvaluated(run.id, 2, null);
  store.periodLevels.leaveOut(run.id, 'wrong tyre', 'Kim');
  for (const verdict of ['none', 'outer'] as const) {
    nowMs += 1000;
    store.findings.add(
      {
        locationId: pinion!,
        atMs: nowMs,
        startMs: BEGIN_MS,
        durationS: 10,
        sampleRateHz: 3200,
        nodeId: AXLE_BOARD,
        sensor: 0,
        by: null,
        axis: 'x',
        speedRpm: 1800,
        speedSource: 'nominal',
        shaft: null,
        bearing: '6205',
        verdict,
        reason: 'for the test',
        findings: [],
      },
      `<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0L${nowMs} 1"/></svg>`,
    );
  }
  const repair = store.assetEvents.add(bus.id, { kind: 'repair', note: 'pinion bearing renewed' }, 'Ines');
  const check = store.repairChecks.add(bus.id, {
    locationId: pinion!,
    value: 'velocityRmsMmPerS',
    leastFallDb: 6,
    statedBy: 'Ines',
    note: '',
  });
  store.repairChecks.repaired(check.id, repair.id, true);
  store.repairChecks.chooseRuns(check.id, { before: [run.id], after: null });
  store.stripDowns.add({
    assetId: bus.id,
    locationId: pinion!,
    location: 'Pinion bearing, Rear axle',
    openedMs: nowMs,
    part: 'pinion bearing',
    damage: ['outer'],
    condition: 'pitted over a third',
    openedBy: 'Ines',
    enteredBy: 'Ines',
    said: { verdict: 'outer', bearing: '6205', atMs: nowMs },
  });
  store.watchPlans.begin(
    bus.id,
    {
      locationId: pinion!,
      everyDays: 7,
      everyReason: 'rises slowly',
      conditions: { kind: 'road', manoeuvres: ['steady-cruise'], bins: [], speed: '60', load: '', note: '' },
      stopLimits: [
        { locationId: wheel!, value: 'velocityRmsMmPerS', basis: 'level', bin: 'cruise', limit: 7.1 },
      ],
      stopSigns: [{ text: 'it smells', source: 'own' }],
      tell: 'the driver calls',
      agreedBy: 'Ines and the owner',
    },
    'Ines',
  );
  const cause = {
    key: 'test/1',
    about: 'zone' as const,
    assetId: bus.id,
    locationId: wheel!,
    nodeId: null,
    quantity: 'velocityRmsMmPerS' as const,
    detail: 'C',
    value: 5.1,
    limit: 4.5,
    unit: 'mm/s',
    falseAlarmsPerYear: null,
    sinceMs: BEGIN_MS,
    seenMs: nowMs,
  };
  store.alerts.settle('test/', [cause], nowMs, 'normal-again');
  const [alert] = store.alerts.list({ state: 'open', limit: 1 });
  store.alerts.acknowledge(alert!.id, 'Ines', 'seen', nowMs + 5);
  store.alerts.settle('test/', [], nowMs + 9000, 'normal-again');
  const certain = (amount: number) => ({ low: amount, middle: amount, high: amount });
  store.decisions.add({
    assetId: bus.id,
    locationId: wheel!,
    location: 'Wheel bearing, Rear axle',
    chosen: 'wait',
    decidedBy: 'the owner',
    decidedMs: nowMs,
    enteredBy: 'Ines',
    note: 'until the holidays',
    figures: {
      locationId: wheel!,
      part: 'wheel-bearing',
      currency: 'euro',
      labourPerHour: certain(80),
      keptMonths: 12,
      usePerYearKm: 20_000,
      breakdownBesides: certain(300),
      repairAfterBreakdown: certain(900),
      laterRepair: certain(500),
      options: [
        {
          name: 'wait',
          kind: 'watch',
          parts: certain(0),
          labourHours: certain(0),
          besides: certain(0),
          breakdownChance: { low: 0.1, middle: 0.2, high: 0.4 },
          warranty: null,
          laterRepairChance: certain(0.5),
        },
      ],
    },
    answer: { caution: 'First the advice.', options: [], breakEvens: [], sentences: [] },
    support: { caution: null, part: 'wheel-bearing', supports: [], cannotSay: ['how long it lasts'] },
    refusal: { name: 'the owner', textShown: 'Have it inspected before the vehicle is used.' },
  });
  store.close();

  const readings = await openSqliteStore(join(dataDir, 'readings.sqlite'));
  const seconds = Array.from({ length: 60 }, (_, i) => i);
  await readings.commit(
    [
      ...seconds.map((s) => reading(AXLE_BOARD, 0, BEGIN_MS + s * 1000, 1 + s / 7)),
      ...seconds.map((s) => reading(AXLE_BOARD, 1, BEGIN_MS + s * 1000, 2 + s / 9)),
      ...seconds.map((s) => reading(GEARBOX_BOARD, 0, BEGIN_MS + s * 1000, 3 + s / 11)),
    ],
    9,
    undefined,
    seconds.map((s) => ({
      nodeId: AXLE_BOARD,
      sensor: 0,
      startMs: BEGIN_MS + s * 1000,
      axes: ['x', 'y', 'z'] as const,
      firstBand: -92,
      density: [1, 2, 3].map((axis) =>
        Float64Array.from({ length: 95 }, (_, band) => (axis * (band + s)) / 1e4),
      ),
    })),
  );
  await readings.close();
  return { bus: bus.id, runId: run.id };
}
