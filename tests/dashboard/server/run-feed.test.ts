import { describe, expect, it } from 'vitest';
import { encodeEvent, nodeTopic, TimeSource, vehicleTopic } from '../../../firmware-protocol/index.ts';
import { eventually, liveStation, SITE } from './live-station.ts';
import { NODE_A } from './support.ts';

const press = (eventCount: number) =>
  Buffer.from(
    encodeEvent({
      nodeId: NODE_A,
      bootId: 5,
      eventCount,
      nodeClockUs: 10n,
      timeSource: TimeSource.Synced,
      sample: null,
      event: 'noise-mark',
      sensor: null,
      commandId: 0,
      result: 0,
      value: 0,
    }),
  );

async function station() {
  const made = await liveStation();
  const { store } = made;
  store.nodes.add(NODE_A, 'axle board');
  const bus = store.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  const hub = store.assets.addLocation(bus.id, { name: 'Hub', component: 'Rear axle' });
  store.mounts.put(hub.id, { nodeId: NODE_A, sensor: 0 });
  const { cookie } = made.logIn();
  await made.fed(cookie);
  const event = (payload: Buffer) =>
    made.collector.publishAsync(nodeTopic({ site: SITE, nodeId: NODE_A, kind: 'event' }), payload, {
      qos: 1,
    });
  return { ...made, bus, cookie, event };
}

describe('what arrives over MQTT during a run', () => {
  it("a node's button marks the noise once, in the run of its asset, and every page is told", async () => {
    const { store, bus, event, publish, browser, cookie } = await station();
    const [one, two] = [await browser(cookie), await browser(cookie)];
    await event(press(1));
    // The broker has the press when it answers, the dashboard later: what comes after it on the same way tells when.
    await publish(vehicleTopic(SITE, bus.id), { gear: 1 });
    await one.waitFor('vehicle');
    const run = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
    await event(press(2));
    await event(press(2));
    await event(press(3));
    await eventually(() => store.runEvents.marks(run.id).length === 2);
    expect(store.runEvents.marks(run.id)).toMatchObject([
      { source: 'node', by: 'axle board' },
      { source: 'node', by: 'axle board' },
    ]);
    for (const page of [one, two]) {
      const changes = await page.waitFor('run-changed', 3);
      expect(changes[0]).toEqual({ type: 'run-changed', runId: run.id, assetId: bus.id });
    }
  });

  it('values of a vehicle go into its run and to the pages; what is none is counted', async () => {
    const { store, bus, publish, browser, cookie, get } = await station();
    const page = await browser(cookie);
    const run = store.runs.start({ assetId: bus.id, kind: 'road' }, 'Kim');
    const topic = vehicleTopic(SITE, bus.id);
    await publish(topic, { engineSpeedRpm: 1726, gear: 4 });
    await publish(topic, { answer: '41 05 5A' });
    await publish(topic, { wind: 3 });
    await publish(topic, { answer: 'no bytes' });
    await publish(vehicleTopic(SITE, 999), { gear: 2 });
    await eventually(() => store.vehicleValues.newest(run.id).length === 3);
    // 0x5A - 40 = 50 degrees.
    expect(store.vehicleValues.newest(run.id).map(({ quantity, newest }) => [quantity, newest])).toEqual([
      ['coolantTemperatureC', 50],
      ['engineSpeedRpm', 1726],
      ['gear', 4],
    ]);
    const [told] = await page.waitFor('vehicle');
    expect(told).toMatchObject({ assetId: bus.id, values: { engineSpeedRpm: 1726, gear: 4 } });
    const { counters } = await get('/api/health', cookie);
    expect(counters['dashboard.stationMessagesRefused']).toBe(1);
    expect(counters['dashboard.vehicleMessagesRefused']).toBeGreaterThanOrEqual(1);
    expect(counters['dashboard.liveFailures']).toBe(0);
  });
});
