import { journalOf } from '../collector/capture/journal-of.ts';
import { noisyRun, SECONDS } from './noisy-run.ts';
import { addPastWeeks, mountedForWeeks } from './past-weeks.ts';
import { readingOf, startWebFixture, type WebFixture } from './web-fixture.ts';

const BUS_TWO_BOARD = 'c1a000000000001a';
const BUS_ONE_BOARD = 'c1a000000000000a';

/** Bus 2 after twenty weeks, with a run of a minute whose raw samples are there: the noise is made at its gearbox. */
export interface RunWithPast {
  station: WebFixture;
  assetId: number;
  runId: number;
  close(): Promise<void>;
}

export async function startRunWithPast(): Promise<RunWithPast> {
  const startMs = 1000 * Math.floor(Date.now() / 1000 - 300);
  const journal = await journalOf(noisyRun(startMs / 1000, BUS_TWO_BOARD, BUS_ONE_BOARD));
  const station = await startWebFixture({
    scenario: true,
    mountedMs: mountedForWeeks(),
    journalDir: journal.dir,
  });
  const { records, sensors } = station;
  const bus = records.assets.list().find(({ name }) => name === 'Bus 2')!;
  const complaint = {
    description: 'Hum that grows with speed, under the floor in the middle',
    when: 'since about two weeks, every day',
    speed: '50 to 60 km/h',
    load: 'pulling, gone when coasting',
    gear: '4th and 5th',
    hotOrCold: 'once warm',
    recentWork: 'none',
  };
  const request = { assetId: bus.id, kind: 'road' as const, complaint, odometerKm: 214_300 };
  const run = records.runs.addPast(request, 'Ines', startMs, startMs + 1000 * SECONDS);
  records.runs.change(run.id, {
    outcome: 'reproduced',
    checks: [{ id: 'fluid', state: 'fault-found', note: 'fine glitter on the magnet' }],
  });
  const mark = { atMs: startMs + 21_000, endMs: startMs + 34_000, source: 'button' as const };
  records.runEvents.addMark(run.id, { ...mark, note: '', by: 'Ines' });
  const seconds = Array.from({ length: SECONDS }, (_, second) => startMs + 1000 * second);
  records.vehicleValues.add(
    run.id,
    seconds.map((atMs, k) => ({ quantity: 'roadSpeedKmH' as const, atMs, value: 53 + (k % 3) })),
  );
  await station.store(
    seconds.flatMap((atMs) => [
      readingOf(sensors['Bus 2 / Output bearing']!, atMs, 3.4),
      readingOf(sensors['Bus 2 / Pinion bearing']!, atMs, 0.6),
    ]),
  );
  await addPastWeeks(station);
  return {
    station,
    assetId: bus.id,
    runId: run.id,
    async close() {
      await station.close();
      await journal.remove();
    },
  };
}
