import { afterEach, describe, expect, it, vi } from 'vitest';
import {
  decodeTimeAnswer,
  encodeTimeRequest,
  exchangeOffset,
  nodeTopic,
  type TimeAnswer,
  toNodeTopic,
} from '../../firmware-protocol/index.ts';
import { failingDisk } from './journal/failing-disk.ts';
import { NODE, OTHER_NODE, SITE, type Station, samplePacket, samplesTopic, startStation } from './station.ts';

let station: Station;
afterEach(() => station.close());

const timeTopic = nodeTopic({ site: SITE, nodeId: NODE, kind: 'time' });
const request = (t0Us: bigint, nodeId = NODE) =>
  Buffer.from(encodeTimeRequest({ nodeId, bootId: 7, t0Us, previous: null }));

async function listening(): Promise<{
  client: Awaited<ReturnType<Station['connect']>>;
  answers: TimeAnswer[];
}> {
  const client = await station.connect();
  const answers: TimeAnswer[] = [];
  client.on('message', (_topic, payload) => {
    const decoded = decodeTimeAnswer(payload);
    if (decoded.ok) answers.push(decoded.message);
  });
  await client.subscribeAsync(toNodeTopic(SITE, NODE, '+'));
  return { client, answers };
}

describe('a node asks for the time', () => {
  it('is answered with its own time, and when the question came and the answer left', async () => {
    station = await startStation();
    const { client, answers } = await listening();
    for (let i = 0; i < 20; i++) {
      const t0Us = BigInt(Math.round(performance.now() * 1000));
      await client.publishAsync(timeTopic, request(t0Us), { qos: 1 });
      await vi.waitFor(() => expect(answers).toHaveLength(i + 1));
      const t3Us = BigInt(Math.round(performance.now() * 1000));
      const answer = answers[i]!;
      expect(answer).toMatchObject({ nodeId: NODE, bootId: 7, t0Us });
      expect(answer.t2Us).toBeGreaterThanOrEqual(answer.t1Us);
      // Both ends are one computer here: the offset found must be this process's own, within half of the delay and
      // the 2 ms that its two clocks may differ.
      const { offsetUs, delayUs } = exchangeOffset({ ...answer, t3Us });
      const trueOffsetUs = Date.now() * 1000 - performance.now() * 1000;
      expect(Math.abs(offsetUs - trueOffsetUs)).toBeLessThan(delayUs / 2 + 2000);
    }
    const records = await station.records();
    expect(records.map(({ topic }) => topic)).toEqual(Array.from({ length: 20 }, () => timeTopic));
    expect(station.broker.counters()['timeAnswers']).toBe(20);
  });

  it('notes when the question arrived, not when earlier messages were at last stored', async () => {
    const disk = failingDisk();
    station = await startStation({ journal: { disk, retryMs: 5 } });
    const { client, answers } = await listening();
    disk.fail('write', 'ENOSPC');
    // Enough to fill what is taken in at once, so that the question has to wait its turn.
    const held = Array.from({ length: 30 }, (_, i) =>
      client.publishAsync(samplesTopic(), samplePacket(i, NODE, 262), { qos: 1 }),
    );
    await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(0));
    const asked = client.publishAsync(timeTopic, request(5n), { qos: 1 });
    await new Promise((resolve) => setTimeout(resolve, 50));
    const healedUs = BigInt(Date.now() * 1000);
    disk.heal();
    await Promise.all([...held, asked]);
    await vi.waitFor(() => expect(answers).toHaveLength(1));
    expect(answers[0]!.t1Us).toBeLessThan(healedUs);
    expect(answers[0]!.t2Us).toBeGreaterThanOrEqual(healedUs - 1000n);
    const records = await station.records();
    expect(BigInt(records[30]!.arrivedAtUs)).toBe(answers[0]!.t1Us);
  });

  it('gets no answer to a question under another name, or to what is no question', async () => {
    station = await startStation();
    const { client, answers } = await listening();
    await client.publishAsync(timeTopic, request(1n, OTHER_NODE), { qos: 1 });
    await client.publishAsync(timeTopic, Buffer.from('what time is it'), { qos: 1 });
    await client.publishAsync(timeTopic, request(2n), { qos: 1 });
    await vi.waitFor(() => expect(answers.map(({ t0Us }) => t0Us)).toEqual([2n]));
    expect(station.broker.counters()).toMatchObject({
      refusedWrongIdentity: 1,
      timeAnswers: 1,
      journaled: 1,
    });
  });
});
