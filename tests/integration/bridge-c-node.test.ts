import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { decodeEvent, decodeSamplePacket } from '../../firmware-protocol/index.ts';
import { OUTSIDE_BROKERS, type OutsideBroker } from '../broker/bridge/outside-broker.ts';
import { bundle, type Child, startChild } from '../broker/child-process.ts';
import { allRecords, NODE, SITE, TOKEN, tempFolder } from '../broker/station.ts';
import { buildFolder, missing } from '../firmware-protocol/support/tools.ts';

const { absent: noBroker, run } = OUTSIDE_BROKERS[0]!;
const absent = noBroker ?? missing('cc', 'make');
const source = fileURLToPath(new URL('../../firmware-protocol/host-node/', import.meta.url));
const RATE_HZ = 3200;

describe.skipIf(absent !== null)(
  `the C node behind mosquitto${absent === null ? '' : ` (${absent})`}`,
  () => {
    const build = buildFolder();
    const node = join(build.folder, 'clampline-host-node-own');
    let folder: Awaited<ReturnType<typeof tempFolder>>;
    let broker: OutsideBroker;
    let program: string;
    let child: ChildProcess;

    beforeAll(async () => {
      execFileSync('make', [`B=${build.folder}`, node], { cwd: source });
      folder = await tempFolder();
      program = await bundle(new URL('../broker/bridge/bridge-child.ts', import.meta.url), folder.path);
      broker = await run({ [NODE]: TOKEN });
    }, 180_000);

    afterAll(async () => {
      if (child?.exitCode === null) child.kill('SIGKILL');
      await broker?.close();
      await folder?.remove();
      build.dispose();
    });

    it('keeps its samples until they are journaled, whoever is killed on the way', {
      timeout: 120_000,
    }, async () => {
      const journalDir = join(folder.path, 'journal');
      const { url, username, password } = broker;
      const station = (): Promise<Child> => startChild(program, [journalDir, url, username, password]);
      let running = await station();
      const options = ['--rate', String(RATE_HZ), '--frames', '80', '--until-journaled'];
      const address = ['--site', SITE, '--id', NODE, '--port', new URL(url).port];
      child = spawn(node, [...address, ...options], {
        env: { ...process.env, CLAMPLINE_TOKEN: TOKEN },
        stdio: 'ignore',
      });
      const ended = once(child, 'exit');
      await sleep(1_500);
      child.kill('SIGUSR2');
      for (let kills = 0; kills < 2; kills++) {
        await sleep(800);
        await running.kill();
        await sleep(300);
        running = await station();
      }
      await sleep(800);
      await broker.kill();
      await sleep(300);
      await broker.start();
      await sleep(1_500);
      // It ends when all it has is journaled.
      child.kill('SIGTERM');
      expect(await ended).toEqual([0, null]);
      await running.kill();

      const records = await allRecords(journalDir);
      const sequences = new Map<number, bigint>();
      let events = 0;
      for (const { topic, payload } of records) {
        if (topic.endsWith('/event') && decodeEvent(payload).ok) events++;
        const decoded = topic.endsWith('/samples') ? decodeSamplePacket(payload) : null;
        if (decoded?.ok) sequences.set(decoded.packet.sequence, decoded.packet.firstSample);
      }
      const found = [...sequences.keys()].sort((a, b) => a - b);
      expect(found.length).toBeGreaterThan(150);
      expect(found).toEqual(found.map((_, index) => index));
      for (const [sequence, firstSample] of sequences) expect(firstSample).toBe(BigInt(sequence * 80));
      expect(events).toBeGreaterThanOrEqual(1);
    });
  },
);
