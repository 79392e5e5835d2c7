import { expect, it } from 'vitest';
import type { Asset, Location, NodeSummary } from '../../../dashboard/contract/model.ts';
import { mountOptions, parseMount, sensorKey } from '../../../dashboard/web/state/mount-options.ts';

const place = (id: number, name: string, mount: Location['mount'] = null): Location => ({
  id,
  name,
  component: 'Gearbox',
  mount,
  newest: null,
});
const board = 'c1a0000000000101';
const output = place(1, 'Output bearing', { nodeId: board, sensor: 0 });
const pinion = place(2, 'Pinion bearing');
const assets: Asset[] = [
  { id: 1, name: 'Bus 1', kind: 'vehicle', machineClass: 'II', locations: [output, pinion] },
];
const nodes: NodeSummary[] = [
  {
    nodeId: board,
    label: 'Gearbox board',
    sensors: [
      { sensor: 0, locationId: 1 },
      { sensor: 1, locationId: null },
    ],
    lastSeenMs: 0,
  },
  { nodeId: 'c1a0000000000102', label: 'Spare', sensors: [], lastSeenMs: null },
];

it('says where a sensor sits now', () => {
  expect(mountOptions(nodes, assets, pinion).map(({ label }) => label)).toEqual([
    'none',
    'Gearbox board, sensor 1, now at Bus 1, Output bearing',
    'Gearbox board, sensor 2',
    'Spare',
  ]);
});

it('chooses the sensor that is mounted', () => {
  const chosen = (at: Location) => mountOptions(nodes, assets, at).filter((option) => option.chosen);
  expect(chosen(pinion).map(({ label }) => label)).toEqual(['none']);
  expect(chosen(output).map(({ label }) => label)).toEqual(['Gearbox board, sensor 1']);
});

it('keeps a mounted sensor choosable when its node was revoked', () => {
  const options = mountOptions([], assets, output);
  expect(options).toHaveLength(2);
  expect(options[1]).toMatchObject({ key: `${board}/0`, chosen: true });
});

it('turns a choice into a request and back', () => {
  expect(parseMount('')).toBeNull();
  expect(parseMount(sensorKey({ nodeId: board, sensor: 11 }))).toEqual({ nodeId: board, sensor: 11 });
});
