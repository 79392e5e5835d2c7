import { afterEach, expect, it } from 'vitest';
import { liveTopic, readingTopic } from '../../firmware-protocol/index.ts';
import { NODE, SITE, type Station, startStation } from './station.ts';

let station: Station;
afterEach(() => station.close());

it('readings that are kept and live blocks that are not all reach the dashboard, each kind in its order', async () => {
  station = await startStation();
  const [collector, dashboard] = [await station.connect('collector'), await station.connect('dashboard')];
  const seen: string[] = [];
  dashboard.on('message', (_topic, payload) => void seen.push(payload.toString()));
  await dashboard.subscribeAsync([readingTopic(SITE, '+', '+'), liveTopic(SITE, '+', '+')], { qos: 1 });
  const sent: string[] = [];
  for (let second = 0; second < 20; second++) {
    // In one turn, as the collector does: three readings, then a block that somebody watches.
    for (let sensor = 0; sensor < 3; sensor++) {
      sent.push(`reading ${second}/${sensor}`);
      collector.publish(readingTopic(SITE, NODE, sensor), sent.at(-1)!, { retain: true });
    }
    sent.push(`live ${second}`);
    await collector.publishAsync(liveTopic(SITE, NODE, 0), sent.at(-1)!);
  }
  while (seen.length < sent.length) await new Promise((resolve) => setTimeout(resolve, 5));
  for (const kind of ['reading', 'live']) {
    const of = (list: string[]) => list.filter((text) => text.startsWith(kind));
    expect(of(seen)).toEqual(of(sent));
  }
  const late = await station.connect('dashboard', { clientId: 'late' });
  const kept: string[] = [];
  late.on('message', (_topic, payload) => void kept.push(payload.toString()));
  await late.subscribeAsync(readingTopic(SITE, '+', '+'));
  while (kept.length < 3) await new Promise((resolve) => setTimeout(resolve, 5));
  expect(kept.sort()).toEqual(['reading 19/0', 'reading 19/1', 'reading 19/2']);
});
