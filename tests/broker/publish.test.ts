import { afterEach, describe, expect, it } from 'vitest';
import { NODE, type Station, samplePacket, samplesTopic, sequenceOf, startStation } from './station.ts';

let station: Station;
afterEach(() => station.close());

describe('a node publishes samples', () => {
  it('finds each acknowledged packet in the journal, in order, with its time of arrival', async () => {
    station = await startStation();
    const before = Date.now() * 1000 - 2000;
    const client = await station.connect();
    for (let i = 0; i < 50; i++) await client.publishAsync(samplesTopic(), samplePacket(i), { qos: 1 });

    const records = await station.records();
    expect(records.map(sequenceOf)).toEqual(Array.from({ length: 50 }, (_, i) => i));
    for (const record of records) {
      expect(record.topic).toBe(samplesTopic());
      expect(record.arrivedAtUs).toBeGreaterThan(before);
      expect(record.arrivedAtUs).toBeLessThan(Date.now() * 1000 + 2000);
    }
    expect(station.broker.counters()).toMatchObject({ journaled: 50, journalRecords: 50 });
    expect(station.broker.clients()).toMatchObject([{ principal: { role: 'node', nodeId: NODE } }]);
  });
});
