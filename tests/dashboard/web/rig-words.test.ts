import { describe, expect, it } from 'vitest';
import type { NodeSummary } from '../../../dashboard/contract/model.ts';
import type { FeltTap } from '../../../dashboard/contract/rig.ts';
import {
  nodeFacts,
  reasonText,
  sensorFacts,
  sensorName,
  tapText,
  verdictText,
} from '../../../dashboard/web/rig-words.ts';
import { soundHealth } from '../server/rig-support.ts';

const NOW_MS = 1_760_000_000_000;
const NODE = '00000000000000a1';

const texts = (facts: { name: string; text: string }[]) =>
  Object.fromEntries(facts.map(({ name, text }) => [name, text]));

describe('what is known of a node', () => {
  it('is told with units', () => {
    const health = soundHealth(NODE, NOW_MS);
    const { boot } = health;
    const node = { ...health, boot: { ...boot!, packetsMissing: 12 } };
    expect(texts(nodeFacts(node as never, NOW_MS))).toEqual({
      State: 'sampling',
      Started: '1 h ago, after power-up',
      Packets: '12 missing of 28812 since the start',
      Clock: 'within 2.1 ms, runs 14 millionths too fast',
      Battery: '64 %, 3.80 V',
      Signal: '-58 dBm',
      Temperature: '21.5 °C',
      'Waiting to be sent': '0 % of its memory',
      Firmware: '1.4.0',
      'Sensor part': 'ADXL345',
    });
    expect(texts(sensorFacts(health.sensors[0] as never))).toEqual({
      'Sample rate': '3187.4 Hz (−0.39 % of nominal)',
      Clipped: '0 of the last 900 s',
      Rattled: '0 of the last 900 s',
      // 4000 µm/s² per root Hz, in two digits.
      'Noise floor': 'at most 0.16 m/s², 410 µg/√Hz (its quietest second)',
      Gravity: '9.79 m/s²: Z points up, 1° off upright',
    });
  });

  it('says so where the node does not', () => {
    const health = { ...soundHealth(NODE, NOW_MS), status: null, boot: null };
    const { Battery, Signal, Firmware, Packets, Started } = texts(nodeFacts(health as never, NOW_MS));
    for (const text of [Battery, Signal, Firmware, Packets, Started]) expect(text).toBe('not stated');
  });
});

describe('reasons', () => {
  const reason = (
    code: string,
    value: number | null = null,
    limit: number | null = null,
    sensor: number | null = null,
  ) => reasonText({ code, severity: 'fault', sensor, value, limit });

  it('are sentences with figures, and name the sensor as people count', () => {
    expect(reason('silent', 130)).toBe('silent for 2 min');
    expect(reason('rattling', 12, 1, 0)).toMatch(/^sensor 1: rattled in 12 % .* its clamp may be loose/);
    expect(reason('clipping', 3.14, 1, 1)).toMatch(/^sensor 2: clipped in 3\.1 % of the last minutes/);
    expect(reason('rate-off', -6.2, 5, 0)).toBe(
      'sensor 1: samples 6.2 % slower than it says; over 5 % levels are off',
    );
    expect(reason('gravity-off', 22, 15, 0)).toMatch(/22 % too high at rest/);
  });

  it('hide nothing that a newer station may say', () => {
    expect(reason('moon-phase')).toBe('moon phase');
    expect(verdictText(undefined)).toBe('Not known yet');
    expect(verdictText({ verdict: 'not-sound', reasons: [] })).toBe('Not sound');
  });
});

describe('a tap', () => {
  const felt = (nodeId: string, sensor: number, peakMPerS2: number) =>
    ({ nodeId, sensor, peakMPerS2, atMs: NOW_MS - 2000, source: 'samples', atRest: true }) as const;
  const rap = (clear: boolean, ...taps: FeltTap['felt']): FeltTap => ({
    id: 1,
    atMs: NOW_MS - 2000,
    felt: taps,
    clear,
  });

  it('is told at each sensor that felt it, and how strongly', () => {
    const both = [rap(true, felt('a', 0, 40), felt('b', 1, 6))];
    expect(tapText(both, 'a', 0, NOW_MS)).toBe('felt a tap 2 s ago, the strongest');
    expect(tapText(both, 'b', 1, NOW_MS)).toBe('felt a tap 2 s ago, weaker than another');
    expect(tapText(both, 'b', 0, NOW_MS)).toBe('');
    expect(tapText([rap(true, felt('a', 0, 40))], 'a', 0, NOW_MS)).toBe('felt a tap 2 s ago');
    expect(tapText([rap(false, felt('a', 0, 40), felt('b', 1, 30))], 'a', 0, NOW_MS)).toMatch(
      /about as strong/,
    );
  });

  it('is no news after a while', () => {
    expect(tapText([rap(true, felt('a', 0, 40))], 'a', 0, NOW_MS + 20_000)).toBe('');
  });

  it('of a running machine marks no row', () => {
    const knock = { ...felt('a', 0, 40), atRest: false };
    expect(tapText([rap(true, knock)], 'a', 0, NOW_MS)).toBe('');
  });

  it('names a sensor only where a node has several', () => {
    const node = (nodeId: string, count: number): NodeSummary => ({
      nodeId,
      label: `Board ${nodeId}`,
      sensors: Array.from({ length: count }, (_, sensor) => ({ sensor, locationId: null })),
      lastSeenMs: null,
    });
    const nodes = [node('a', 1), node('b', 3)];
    expect(sensorName(nodes, 'a', 0)).toBe('Board a');
    expect(sensorName(nodes, 'b', 2)).toBe('Board b, sensor 3');
    expect(sensorName(nodes, 'c', 0)).toBe('node c');
  });
});
