import { tyreCircumferenceM } from '../../collector/drivetrain/index.ts';
import type { DriveTrain } from '../../dashboard/contract/drive-train.ts';
import { gaussian } from '../../dashboard/virtual/synth/random.ts';
import { type SentMessage, simulatedNode } from './simulated-node.ts';

export const DRIVE_SECONDS = 60;
export const TYRE = '205/65 R16';
/** 39 teeth on 10. */
const FINAL_DRIVE = 3.9;
const CIRCUMFERENCE_M = tyreCircumferenceM(TYRE);

export const engineHz = (t: number) => 30 + 10 * Math.sin(t / 6);
export const wheelTurnsPerS = (t: number) => 5.5 + 2 * Math.sin(t / 11 + 1);
const engineTurns = (t: number) => 30 * t - 60 * Math.cos(t / 6);
const wheelTurns = (t: number) => 5.5 * t - 22 * Math.cos(t / 11 + 1);
const roadKmH = (t: number) => 3.6 * CIRCUMFERENCE_M * wheelTurnsPerS(t);

/**
 * Samples of one sensor while engine and road speed vary, each in its own way (the converter slips): the engine's
 * second order, the second order of the propeller shaft (its joints), and a hum of 120 Hz that follows no speed.
 */
export function varyingDrive(
  nodeId: string,
  startS: number,
  humMPerS2: (t: number) => number = () => 0.5,
): SentMessage[] {
  const noise = gaussian(21);
  const tone = (amplitude: number, turns: number) => amplitude * Math.cos(2 * Math.PI * turns);
  const node = simulatedNode({
    nodeId,
    startS,
    signal: (unixS) => {
      const t = unixS - startS;
      return (
        tone(0.9, 2 * engineTurns(t)) +
        tone(1.2, 2 * FINAL_DRIVE * wheelTurns(t)) +
        tone(humMPerS2(t), 120 * t) +
        0.4 * noise()
      );
    },
  });
  return [
    ...Array.from({ length: node.packetsIn(DRIVE_SECONDS) }, (_, i) => node.packet(i)),
    ...Array.from({ length: 12 }, (_, i) => node.exchange(0.5 + 5 * i)),
  ];
}

/** What the vehicle tells: engine speed in quarters of a turn a minute, road speed in whole km/h (SAE J1979). */
export function toldByVehicle(startS: number) {
  const times = Array.from({ length: 5 * DRIVE_SECONDS + 1 }, (_, k) => k / 5);
  const row = (quantity: 'engineSpeedRpm' | 'roadSpeedKmH', value: (t: number) => number) =>
    times.map((t) => ({ quantity, atMs: 1000 * (startS + t), value: value(t) }));
  return [
    ...row('engineSpeedRpm', (t) => Math.round(4 * 60 * engineHz(t)) / 4),
    ...row('roadSpeedKmH', (t) => Math.round(roadKmH(t))),
  ];
}

export const VARYING_TRAIN: DriveTrain = {
  nominalSpeedRpm: null,
  shafts: ['engine', 'propeller shaft', 'wheel'],
  couplings: [
    { kind: 'slipping', name: 'converter', driving: 'engine', driven: 'propeller shaft' },
    {
      kind: 'gears',
      name: 'final drive',
      driving: 'propeller shaft',
      driven: 'wheel',
      drivingTeeth: 10,
      drivenTeeth: 39,
    },
  ],
  universalJoints: [{ name: 'rear joint', shaft: 'propeller shaft' }],
  blades: [],
  tyre: { size: TYRE, shaft: 'wheel' },
  vehicleSpeeds: { engineSpeedRpm: 'engine' },
  bearings: [],
};
