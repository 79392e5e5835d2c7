import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { createPipeline } from '../../../collector/pipeline/pipeline.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { amplitudeOf, simulatedNode } from '../../support/simulated-node.ts';
import { bundle, type Child, startChild } from '../child-process.ts';
import { allRecords, sequenceOf, tempFolder } from '../station.ts';
import { keepingNode } from './keeping-node.ts';
import { OUTSIDE_BROKERS, type OutsideBroker } from './outside-broker.ts';

const NODES = ['00000000000000a1', '00000000000000a2', '00000000000000a3'];
/** 8 packets hold one second of samples. */
const SECONDS = 30;
const PACKETS = 8 * SECONDS;
const KILLS = Number(process.env['CLAMPLINE_KILLS'] ?? 3);

let folder: Awaited<ReturnType<typeof tempFolder>>;
let program: string;

beforeAll(async () => {
  folder = await tempFolder();
  program = await bundle(new URL('./bridge-child.ts', import.meta.url), folder.path);
});

afterAll(() => folder?.remove());

describe.each(OUTSIDE_BROKERS)(
  'nodes at $name, and a station that bridges to it',
  ({ name, absent, run }) => {
    if (absent !== null) {
      console.warn(absent);
      it.skip(absent, () => {});
      return;
    }
    let broker: OutsideBroker;
    let boots = 0;

    beforeAll(async () => {
      broker = await run();
    }, 150_000);

    afterAll(() => broker?.close());

    /** Lets nodes publish while `disturb` kills one side, and looks at the journal when they are content. */
    async function trial(label: string, disturb: (startBridge: () => Promise<Child>) => Promise<Child>) {
      const journalDir = join(folder.path, `${name}-${label}`);
      const { url, username, password } = broker;
      const bootId = ++boots;
      const startBridge = () => startChild(program, [journalDir, url, username, password]);
      // The other broker keeps nothing for a station that it has never seen: it is seen once before nodes begin.
      await (await startBridge()).kill();
      const nodes = NODES.map((nodeId) => {
        const node = simulatedNode({ nodeId, bootId, replay: true, startS: 1_760_000_000 });
        const packets = Array.from({ length: PACKETS }, (_, index) => node.packet(index).payload);
        return keepingNode({ url, username, password, nodeId, bootId, packets, everyMs: 10 });
      });
      const last = await disturb(startBridge);
      await Promise.all(nodes.map((node) => node.done));
      for (const node of nodes) node.stop();
      await last.kill();

      const records = await allRecords(journalDir);
      const keys = records.map((record) => `${record.topic} ${sequenceOf(record)}`);
      const count = (pick: (node: (typeof nodes)[number]) => number) =>
        nodes.reduce((sum, node) => sum + pick(node), 0);
      console.log(
        `${name}, ${label} killed ${KILLS} times: ${NODES.length * PACKETS} packets, ${records.length} records, ` +
          `${records.length - new Set(keys).size} of them twice, ${count((node) => node.resent())} sent again`,
      );
      expect(new Set(keys).size).toBe(NODES.length * PACKETS);

      // The same seconds come out as if each packet had come once and in order.
      const pipeline = createPipeline();
      const store = await openSqliteStore(join(folder.path, `${name}-${label}.sqlite`));
      for (const record of records) await store.commit(pipeline.accept(record).readings, record.position);
      for (const nodeId of NODES) {
        const readings = await store.readings({ nodeId, sensor: 0 }, 0, Number.MAX_SAFE_INTEGER);
        // The first second begins late, and the newest waits for more samples.
        const whole = readings.filter(({ flags }) => !flags.includes('settling'));
        expect(whole.length).toBeGreaterThanOrEqual(SECONDS - 4);
        expect(whole.filter(({ flags }) => flags.length > 0)).toEqual([]);
        for (const { startMs, axes } of whole) {
          const rms = amplitudeOf(startMs / 1000) / Math.SQRT2;
          expect(axes[0]!.accelerationRmsMPerS2! / rms).toBeCloseTo(1, 2);
        }
      }
      await store.close();
      return nodes;
    }

    it('nothing is lost or counted twice when the station is killed', { timeout: 180_000 }, async () => {
      const nodes = await trial('station', async (startBridge) => {
        for (let i = 0; i < KILLS; i++) {
          const child = await startBridge();
          await sleep(200 + Math.random() * 300);
          await child.kill();
        }
        return startBridge();
      });
      expect(nodes.every((node) => node.acknowledged.size === PACKETS)).toBe(true);
    });

    it('nothing is lost or counted twice when the other broker is killed', { timeout: 300_000 }, async () => {
      await trial('broker', async (startBridge) => {
        const child = await startBridge();
        for (let i = 0; i < KILLS; i++) {
          await sleep(200 + Math.random() * 300);
          await broker.kill();
          await broker.start();
        }
        return child;
      });
    });
  },
);
