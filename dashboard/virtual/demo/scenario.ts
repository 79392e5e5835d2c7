/**
 * The demo: a small town's minibus service, three buses and the workshop's extraction fan. Invented levels, for
 * show only. Bus 1 is sound; Bus 2 has a worn gearbox output bearing, heard while pulling; a heat shield on
 * Bus 3 is loose; the fan is out of balance.
 */

import type { BoardModel } from '../synth/board.ts';
import { busOnRoute, type Operating, steadyFan } from '../synth/operating.ts';
import {
  amplitudeOf,
  looseSheet,
  orderTone,
  passingDefect,
  roadNoise,
  type Source,
} from '../synth/sources.ts';

export interface DemoLocation {
  name: string;
  component: string;
}

export interface DemoBoard {
  nodeId: string;
  label: string;
  /** One location for each accelerometer of the board. */
  locations: DemoLocation[];
  model: BoardModel;
}

export interface DemoAsset {
  name: string;
  kind: 'vehicle' | 'machine';
  machineClass: 'I' | 'II' | 'III' | 'IV';
  boards: DemoBoard[];
}

/** How far things have gone; 1 each: as they are today. */
export interface DemoState {
  /** Damage of Bus 2's output bearing. */
  bearingWear: number;
  /** Unbalance of the fan. */
  fanUnbalance: number;
  /** Shaking that differs from day to day: road, weather, people on board. */
  day: number;
  /** Another one, other noise. */
  seed: number;
}

const TODAY: DemoState = { bearingWear: 1, fanUnbalance: 1, day: 1, seed: 0 };

/** Outer-race passages a revolution of a bearing with 9 elements, 7.94 mm on 39.04 mm (published: 3.5848). */
const OUTER_RACE_PER_REVOLUTION = 3.5848;
const GEARBOX_TEETH = 27;
const PINION_TEETH = 11;

const engineHz = (o: Operating) => o.engineHz;
const outputHz = (o: Operating) => o.outputShaftHz;
const wheelHz = (o: Operating) => o.wheelHz;
const moving = (o: Operating) => Math.min(1, o.speedKmH / 50);

/** What every bus has: engine firing, propeller shaft, meshes, wheels, road. */
function busSources(seed: number, day: number): Source[] {
  return [
    orderTone(engineHz, 2, (o, hz) => amplitudeOf(day * (0.5 + 0.6 * Math.max(0, o.load)), hz)),
    orderTone(outputHz, 1, (o, hz) => amplitudeOf(day * 0.6 * moving(o), hz)),
    orderTone(engineHz, GEARBOX_TEETH, (o) => 0.4 + 0.8 * Math.abs(o.load)),
    orderTone(outputHz, PINION_TEETH, (o) => 0.7 * moving(o)),
    orderTone(wheelHz, 1, (o, hz) => amplitudeOf(0.5 * moving(o), hz)),
    roadNoise(seed, 180, (o) => day * (0.05 + 0.35 * moving(o))),
  ];
}

/** Columns: firing, propeller shaft, gearbox mesh, final drive mesh, wheels, road, then the bus's own trouble. */
const GEARBOX_FRONT = [0.9, 0.3, 0.8, 0.15, 0.05, 0.3];
const GEARBOX_REAR = [0.7, 0.7, 1, 0.3, 0.1, 0.4];
const FINAL_DRIVE = [0.2, 1, 0.25, 1, 0.5, 0.8];
const WHEEL_LEFT = [0.1, 0.4, 0.1, 0.3, 1, 1];
const WHEEL_RIGHT = [0.1, 0.4, 0.1, 0.3, 0.9, 1];

function busBoards(
  bus: number,
  own: Source[],
  reach: Record<'front' | 'rear' | 'drive' | 'wheel', number>,
  { day, seed }: DemoState,
): DemoBoard[] {
  const offsetS = bus * 37;
  const seedOf = (place: number) => 1000 * seed + bus * 100 + place;
  const sensor = (path: number[], share: [number, number, number], ownReach: number) => ({
    path: [...path, ...own.map(() => ownReach)],
    axisShare: share,
  });
  const common = { operatingAt: busOnRoute(offsetS), fullScaleG: 16, noiseUgPerRtHz: 100 };
  return [
    {
      nodeId: `c1a0000000000${bus}01`,
      label: `Bus ${bus} gearbox board`,
      locations: [
        { name: 'Front bearing', component: 'Gearbox' },
        { name: 'Output bearing', component: 'Gearbox' },
      ],
      model: {
        ...common,
        sampleRateHz: 6400,
        sources: [...busSources(seedOf(0), day), ...own],
        sensors: [
          sensor(GEARBOX_FRONT, [0.5, 0.7, 1], reach.front),
          sensor(GEARBOX_REAR, [0.4, 1, 0.8], reach.rear),
        ],
        seed: seedOf(50),
      },
    },
    {
      nodeId: `c1a0000000000${bus}02`,
      label: `Bus ${bus} rear axle board`,
      locations: [
        { name: 'Pinion bearing', component: 'Rear axle' },
        { name: 'Left wheel bearing', component: 'Rear axle' },
        { name: 'Right wheel bearing', component: 'Rear axle' },
      ],
      model: {
        ...common,
        sampleRateHz: 3200,
        sources: [...busSources(seedOf(10), day), ...own],
        sensors: [
          sensor(FINAL_DRIVE, [0.4, 0.7, 1], reach.drive),
          sensor(WHEEL_LEFT, [0.5, 0.6, 1], reach.wheel),
          sensor(WHEEL_RIGHT, [0.5, 0.6, 1], reach.wheel),
        ],
        seed: seedOf(60),
      },
    },
  ];
}

const wornBearing = (wear: number) =>
  passingDefect(
    7,
    (o) => o.outputShaftHz * OUTER_RACE_PER_REVOLUTION,
    { frequencyHz: 1900, dampingRatio: 0.05 },
    (o) => 22 * wear * Math.max(0, o.load) * moving(o),
  );

/** Play in the same bearing lets the shaft whirl: felt as more of its first order while pulling. */
const shaftWhirl = (wear: number) =>
  orderTone(outputHz, 1, (o, hz) => amplitudeOf(3.4 * wear * Math.max(0, o.load) * moving(o), hz));

const looseShield = () =>
  looseSheet(
    9,
    (o) => (o.engineHz > 24 && o.engineHz < 34 ? 40 : 0),
    { frequencyHz: 420, dampingRatio: 0.03 },
    18,
  );

export function demoAssets(state: DemoState = TODAY): DemoAsset[] {
  const { bearingWear, fanUnbalance, day, seed } = state;
  const bus = (name: string, boards: DemoBoard[]): DemoAsset => ({
    name,
    kind: 'vehicle',
    machineClass: 'II',
    boards,
  });
  return [
    bus('Bus 1', busBoards(1, [], { front: 0, rear: 0, drive: 0, wheel: 0 }, state)),
    bus(
      'Bus 2',
      busBoards(
        2,
        [wornBearing(bearingWear), shaftWhirl(bearingWear)],
        { front: 0.35, rear: 1, drive: 0.2, wheel: 0.05 },
        state,
      ),
    ),
    bus('Bus 3', busBoards(3, [looseShield()], { front: 0.5, rear: 0.25, drive: 0.05, wheel: 0.02 }, state)),
    {
      name: 'Workshop extraction fan',
      kind: 'machine',
      machineClass: 'I',
      boards: [
        {
          nodeId: 'c1a0000000000401',
          label: 'Fan board',
          locations: [
            { name: 'Drive end', component: 'Fan motor' },
            { name: 'Fan bearing', component: 'Fan shaft' },
          ],
          model: {
            operatingAt: steadyFan(),
            sampleRateHz: 3200,
            fullScaleG: 16,
            noiseUgPerRtHz: 100,
            sources: [
              orderTone(engineHz, 1, (_, hz) => amplitudeOf(2.6 * fanUnbalance * day, hz)),
              orderTone(engineHz, 8, (_, hz) => amplitudeOf(0.5, hz)),
              roadNoise(1000 * seed + 400, 250, () => 0.2),
            ],
            sensors: [
              { path: [0.5, 0.3, 0.6], axisShare: [1, 0.5, 0.7] },
              { path: [1, 1, 1], axisShare: [1, 0.4, 0.8] },
            ],
            seed: 1000 * seed + 450,
          },
        },
      ],
    },
  ];
}
