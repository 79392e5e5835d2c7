import { onTestFinished } from 'vitest';
import { journalOf } from '../../../collector/capture/journal-of.ts';
import { AXLE_BOARD, GEARBOX_BOARD, noisyRun } from '../../../support/noisy-run.ts';
import { NOON_MS, testApp } from '../support.ts';

/** Names that must not leave the station unless somebody asks for it. */
const PLATE = 'KB-TR 204 <script>document.title = "ran"</script>';
const OWNER_NOTE = 'Owner Mrs Miller, route Kirchberg to Altdorf';

/** A run of a minute on a bus with three places, its raw samples in a real journal; the noise is made at the pinion. */
export async function recordedRun() {
  const journal = await journalOf(noisyRun(NOON_MS / 1000));
  onTestFinished(journal.remove);
  const test = await testApp({ journalDir: journal.dir });
  const { cookie } = await test.as('shop');
  const { store, time } = test;
  const bus = store.assets.add({ name: PLATE, kind: 'vehicle', machineClass: 'II' });
  const place = (name: string, component: string) => store.assets.addLocation(bus.id, { name, component }).id;
  const [pinion, wheel, output] = [
    place('Pinion bearing', 'Rear axle'),
    place('Left wheel bearing', 'Rear axle'),
    place('Output bearing <img src=x onerror=alert(1)>', 'Gearbox'),
  ];
  store.nodes.add(AXLE_BOARD, 'axle');
  store.nodes.add(GEARBOX_BOARD, 'gearbox');
  store.mounts.put(pinion, { nodeId: AXLE_BOARD, sensor: 0 });
  store.mounts.put(wheel, { nodeId: AXLE_BOARD, sensor: 1 });
  store.mounts.put(output, { nodeId: GEARBOX_BOARD, sensor: 0 });
  const run = store.runs.start(
    {
      assetId: bus.id,
      kind: 'road',
      notes: OWNER_NOTE,
      complaint: {
        description: 'Hum from behind <b>loud</b>',
        when: 'since two weeks',
        speed: '60 to 80 km/h',
        load: 'pulling uphill',
        hotOrCold: 'once warm',
      },
    },
    'Kim Operator',
  );
  const mark = { atMs: NOON_MS + 21_000, endMs: NOON_MS + 34_000, source: 'button' as const };
  store.runEvents.addMark(run.id, { ...mark, note: 'at the church of Kirchberg', by: 'Kim Operator' });
  store.vehicleValues.add(
    run.id,
    Array.from({ length: 61 }, (_, s) => ({
      quantity: 'roadSpeedKmH' as const,
      atMs: NOON_MS + 1000 * s,
      value: 72,
    })),
  );
  time.advance(60_000);
  store.runs.end(run.id);
  store.runs.change(run.id, { outcome: 'reproduced' });
  const get = (url: string) =>
    test.app.inject({ method: 'GET', url, headers: { cookie, host: 'localhost' } });
  return { ...test, get, run, bus, pinion, wheel, output, cookie };
}
