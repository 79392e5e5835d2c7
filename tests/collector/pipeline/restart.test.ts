import { describe, expect, it } from 'vitest';
import type { Reading } from '../../../collector/model.ts';
import { createPipeline, type Pipeline, type PipelineRecord } from '../../../collector/pipeline/pipeline.ts';
import { positionsNeeded, type SavedState } from '../../../collector/pipeline/saved-state.ts';
import { seeded, simulatedNode } from '../../support/simulated-node.ts';
import { byArrival, journalOf, largestDifference, runPipeline, saveInto } from './run.ts';

const START_S = 1_760_000_000.25;
const upTo = (count: number, from = 0) => Array.from({ length: count - from }, (_, i) => from + i);

interface Step {
  readings: Reading[];
  /** State as saved after the record. */
  rows: [string, string][];
}

const byPosition = (records: readonly PipelineRecord[]) => new Map(records.map((r) => [r.position, r]));

function restored(rows: SavedState, journal: Map<number, PipelineRecord>): Pipeline {
  const needed = new Map(positionsNeeded(rows).map((at) => [at, journal.get(at)!]));
  return createPipeline({}, rows, (at) => needed.get(at));
}

/** Runs a journal and saves after every record. */
function steps(pipeline: Pipeline, before: SavedState, records: readonly PipelineRecord[]): Step[] {
  const rows = new Map(before);
  return records.map((record) => {
    const { readings } = pipeline.accept(record);
    saveInto(rows, pipeline.checkpoint());
    return { readings, rows: [...rows].sort(([a], [b]) => (a < b ? -1 : 1)) };
  });
}

function expectSame(found: Reading[], expected: Reading[]) {
  expect(found.length).toBe(expected.length);
  for (const [i, reading] of expected.entries()) {
    const { axes: _, ...rest } = reading;
    expect(found[i]).toMatchObject(rest);
    expect(largestDifference(reading, found[i]!)).toBeLessThan(1e-9);
  }
}

const tone = (s: number) => (2 + Math.sin(s)) * Math.sin(2 * Math.PI * 50 * (s - START_S));

/** Two free-running nodes; one reboots, loses packets, is out of reach and comes back with a backlog. */
function eventfulJournal(): PipelineRecord[] {
  const options = { jitterUs: 900, framesPerPacket: 800, signal: tone };
  const steady = simulatedNode({
    ...options,
    startS: START_S,
    rateFactor: 0.96,
    nodeId: '00000000000000d1',
    random: seeded(5),
  });
  const rover = simulatedNode({
    ...options,
    startS: START_S,
    rateFactor: 1.03,
    bootId: 1,
    nodeId: '00000000000000d2',
    random: seeded(6),
  });
  const reborn = simulatedNode({
    ...options,
    startS: START_S + 25,
    rateFactor: 1.03,
    bootId: 2,
    nodeId: '00000000000000d2',
    random: seeded(7),
  });
  const all = [steady, rover, reborn].map((node, n) => {
    const packets = upTo(node.packetsIn([40, 20, 15][n]!)).map((i) => node.packet(i));
    return { packets, exchanges: [-3, -2, -1].map((s) => node.exchange(s)) };
  });
  const rovers = all[1]!.packets.flatMap((p, i) => {
    if (i === 12) return [];
    if (i >= 30 && i < 50) return [{ ...p, arrivedAtUs: (START_S + 30) * 1e6 + i }];
    return i % 9 === 0 ? [p, p] : [p];
  });
  const messages = byArrival(all[0]!.packets, rovers, all[2]!.packets, ...all.map((n) => n.exchanges));
  // Neighbours change places now and then.
  for (let i = 5; i + 1 < messages.length; i += 11) {
    [messages[i], messages[i + 1]] = [messages[i + 1]!, messages[i]!];
  }
  return journalOf(messages);
}

describe('a pipeline built again from what was saved', () => {
  const records = eventfulJournal();
  const undisturbed = runPipeline(records).readings;

  it('has an eventful journal to prove itself on', () => {
    const { counters } = runPipeline(records);
    expect(counters).toMatchObject({ 'duplicate-packet': expect.any(Number), gap: expect.any(Number) });
    expect(undisturbed.length).toBeGreaterThan(60);
  });

  it('goes on as if nothing had been, wherever it stopped', () => {
    const journal = byPosition(records);
    const whole = steps(createPipeline(), [], records);
    for (const [crash, { rows }] of whole.entries()) {
      // Until every block that was open has been read out; the same state then means the same for ever.
      const next = records.slice(crash + 1, crash + 31);
      const again = steps(restored(rows, journal), rows, next);
      const expected = whole.slice(crash + 1, crash + 31);
      expectSame(
        again.flatMap((step) => step.readings),
        expected.flatMap((step) => step.readings),
      );
      expect(again.at(-1)?.rows).toEqual(expected.at(-1)?.rows);
    }
  });

  it('goes on as if nothing had been when it stops after every record', () => {
    const journal = byPosition(records);
    let rows: SavedState = [];
    const readings: Reading[] = [];
    for (const record of records.slice(0, 120)) {
      const [step] = steps(restored(rows, journal), rows, [record]);
      readings.push(...step!.readings);
      rows = step!.rows;
    }
    expectSame(readings, runPipeline(records.slice(0, 120)).readings);
  });

  it('needs few records again: those of open blocks and of their filters’ warm-up', () => {
    const pipeline = createPipeline();
    const rows = new Map<string, string>();
    for (const record of records) {
      pipeline.accept(record);
      saveInto(rows, pipeline.checkpoint());
      // Three boots, each at most 6 s of tail and 6 s of head and what waits, at 4 packets a second.
      expect(positionsNeeded([...rows]).length).toBeLessThan(150);
    }
  });

  it('makes the same readings again from an older save', () => {
    const at = Math.floor(records.length / 2);
    const pipeline = createPipeline();
    const rows = new Map<string, string>();
    for (const record of records.slice(0, at)) pipeline.accept(record);
    saveInto(rows, pipeline.checkpoint());
    const again = () => {
      const pipelineAgain = restored([...rows], byPosition(records));
      return records.slice(at).flatMap((record) => pipelineAgain.accept(record).readings);
    };
    expectSame(again(), again());
    expectSame([...runPipeline(records.slice(0, at)).readings, ...again()], undisturbed);
  });

  it('goes on with a seam when the journal no longer holds what it needs', () => {
    const at = Math.floor(records.length / 2);
    const rows = new Map<string, string>();
    const pipeline = createPipeline();
    for (const record of records.slice(0, at)) pipeline.accept(record);
    saveInto(rows, pipeline.checkpoint());
    const blind = createPipeline({}, [...rows], () => undefined);
    const readings = records.slice(at).flatMap((record) => blind.accept(record).readings);
    expect(readings.some((r) => r.flags.includes('settling'))).toBe(true);
    expect(readings.filter((r) => r.flags.length === 0).length).toBeGreaterThan(20);
  });

  it('takes again what a power cut took from the journal and the node sends again', () => {
    const node = simulatedNode({ replay: true, framesPerPacket: 800, startS: START_S, signal: tone });
    const all = journalOf(upTo(40).map((i) => node.packet(i)));
    const rows = new Map<string, string>();
    const before = createPipeline();
    for (const record of all.slice(0, 23)) before.accept(record);
    saveInto(rows, before.checkpoint());
    // The last two records never reached the disk; their positions hold something else now.
    const kept = byPosition(all.slice(0, 21));
    const after = restored([...rows], kept);
    const resent = all.slice(21).map((record) => ({ ...record, position: record.position + 5_000_000 }));
    const readings = resent.flatMap((record) => after.accept(record).readings);
    expect(after.counters()['duplicate-packet']).toBeUndefined();
    const seconds = [...new Set(readings.map((r) => r.startMs / 1000))];
    const firstMissing = Math.floor(START_S + (21 * 800) / 3200);
    expect(seconds).toContain(firstMissing);
    expect(readings.filter((r) => r.flags.length === 0).length).toBeGreaterThan(1);
  });
});
