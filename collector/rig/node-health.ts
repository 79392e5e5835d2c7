import type { NodeState, NodeStatus, ResetCause, SamplePacket } from '../../firmware-protocol/index.ts';
import { TimeSource } from '../../firmware-protocol/index.ts';
import type { Reading } from '../model.ts';
import { announceNext, countPacket, missingPackets, noPackets, type PacketCount } from './lost-packets.ts';
import {
  newSensor,
  noteReading,
  type SensorHealth,
  type SensorState,
  sensorHealth,
} from './sensor-health.ts';

/** What a node last said of itself; null: it does not know. */
export interface StatusHealth {
  /** When it arrived, Unix ms. An offline notice (the last will) changes `state` and this alone. */
  arrivedMs: number;
  state: NodeState;
  batteryPercent: number | null;
  batteryMilliVolt: number | null;
  bufferFillPermille: number | null;
  temperatureC: number | null;
  signalDbm: number | null;
  resolutionBits: number | null;
  fullScaleMPerS2: number | null;
  /** Of the sensor part, from its data sheet. */
  noiseDensityUmPerS2PerRtHz: number | null;
  sensorBandwidthHz: number | null;
  nextStatusWithinS: number | null;
  firmwareVersion: string;
  sensorPart: string;
}

/** Since the node last started. */
export interface BootHealth {
  bootId: number;
  /** When it started, by the station's clock, Unix ms; for a recording: when its first packet came. */
  startedMs: number;
  /** Null when the node has not told. */
  resetCause: ResetCause | null;
  packetsReceived: number;
  /** Sent and not here: lost, given up by the node, or still under way. */
  packetsMissing: number;
  /** Given up by the node because its buffer was full. */
  packetsDropped: number;
  /** Times the sensor's own buffer overran. */
  overruns: number;
}

export interface ClockHealth {
  source: 'free' | 'synced' | 'replay';
  /** When the newest exchange of time reached the station, Unix ms; null before the first. */
  exchangedMs: number | null;
  /** Largest expected error of the newest block's time; null while no exchange has succeeded. */
  uncertaintyMs: number | null;
  /** How fast the node's clock runs against the station's, parts per million; above 0: too fast. */
  errorPpm: number | null;
}

/** How a node does, published retained. */
export interface NodeHealth {
  nodeId: string;
  /** When the newest message of it arrived, Unix ms. */
  atMs: number;
  status: StatusHealth | null;
  boot: BootHealth | null;
  clock: ClockHealth;
  sensors: SensorHealth[];
}

interface BootState {
  bootId: number;
  startedMs: number;
  resetCause: ResetCause | null;
  packets: PacketCount;
  dropped: number;
  overruns: number;
}

/** What health is made of, node by node. Serialisable. */
export interface HealthState {
  atMs: number;
  status: StatusHealth | null;
  statusBootId: number | null;
  boots: BootState[];
  source: TimeSource;
  exchangedMs: number | null;
  uncertaintyMs: number | null;
  sensors: SensorState[];
}

/** Boots kept: of one that is over, late packets may still come and must not count for the new one. */
const MAX_BOOTS = 3;
const MAX_SENSORS = 16;

export function newHealth(): HealthState {
  return {
    atMs: 0,
    status: null,
    statusBootId: null,
    boots: [],
    source: TimeSource.Free,
    exchangedMs: null,
    uncertaintyMs: null,
    sensors: [],
  };
}

export function noteSamples(state: HealthState, packet: SamplePacket, arrivedMs: number): void {
  const boot = bootOf(state, packet.bootId, arrivedMs);
  countPacket(boot.packets, packet.sequence);
  if (packet.timeSource !== TimeSource.Replay) {
    // The quickest packet tells best when the node's clock stood at 0.
    boot.startedMs = Math.min(boot.startedMs, Math.round(arrivedMs - Number(packet.nodeClockUs) / 1000));
  }
  if (boot === currentBoot(state)) state.source = packet.timeSource;
}

export function noteStatus(state: HealthState, status: NodeStatus, arrivedMs: number): void {
  const { bootId } = status;
  if (status.state === 'offline') {
    // The notice of a connection that a newer boot has replaced comes after that boot's own status.
    if (state.statusBootId !== null && state.statusBootId !== bootId) return;
    state.atMs = Math.max(state.atMs, arrivedMs);
    state.statusBootId = bootId;
    state.status = { ...(state.status ?? statusOf(status, arrivedMs)), state: 'offline', arrivedMs };
    return;
  }
  const boot = bootOf(state, bootId, arrivedMs);
  state.statusBootId = bootId;
  state.status = statusOf(status, arrivedMs);
  boot.resetCause = status.resetCause;
  boot.dropped = Math.max(boot.dropped, status.droppedPackets);
  boot.overruns = Math.max(boot.overruns, status.overruns);
  announceNext(boot.packets, status.nextSequence);
  if (status.timeSource === TimeSource.Replay) return;
  boot.startedMs = Math.min(boot.startedMs, Math.round(arrivedMs - Number(status.nodeClockUs) / 1000));
}

export function noteExchange(state: HealthState, arrivedMs: number): void {
  state.atMs = Math.max(state.atMs, arrivedMs);
  state.exchangedMs = Math.max(state.exchangedMs ?? 0, arrivedMs);
}

/** `known`: the true rate is. */
export function noteBlock(
  state: HealthState,
  reading: Reading,
  rate: { nominalRateHz: number; known: boolean },
): void {
  let sensor = state.sensors.find((one) => one.sensor === reading.sensor);
  if (sensor === undefined) {
    if (state.sensors.length >= MAX_SENSORS) return;
    sensor = newSensor(reading.sensor);
    state.sensors.push(sensor);
    state.sensors.sort((a, b) => a.sensor - b.sensor);
  }
  if (reading.startMs >= sensor.newestMs) state.uncertaintyMs = reading.timeUncertaintyMs ?? null;
  noteReading(sensor, reading, rate);
}

/** `errorPpm` of the clock is the timeline's to tell. */
export function nodeHealth(nodeId: string, state: HealthState, errorPpm: number | null): NodeHealth {
  const boot = currentBoot(state);
  return {
    nodeId,
    atMs: state.atMs,
    status: state.status,
    boot: boot === undefined ? null : bootHealth(boot),
    clock: {
      source: (['free', 'synced', 'replay'] as const)[state.source],
      exchangedMs: state.exchangedMs,
      uncertaintyMs: state.uncertaintyMs,
      errorPpm,
    },
    sensors: state.sensors.map(sensorHealth),
  };
}

function bootHealth({ bootId, startedMs, resetCause, packets, dropped, overruns }: BootState): BootHealth {
  return {
    bootId,
    startedMs,
    resetCause,
    packetsReceived: packets.received,
    packetsMissing: missingPackets(packets),
    packetsDropped: dropped,
    overruns,
  };
}

/** The boot that the newest status speaks of; of a node without status, the one that was heard first last. */
export function currentBoot(state: HealthState): BootState | undefined {
  return state.boots.find((boot) => boot.bootId === state.statusBootId) ?? state.boots.at(-1);
}

function bootOf(state: HealthState, bootId: number, arrivedMs: number): BootState {
  state.atMs = Math.max(state.atMs, arrivedMs);
  const known = state.boots.find((boot) => boot.bootId === bootId);
  if (known !== undefined) return known;
  const boot: BootState = {
    bootId,
    startedMs: arrivedMs,
    resetCause: null,
    packets: noPackets(),
    dropped: 0,
    overruns: 0,
  };
  state.boots.push(boot);
  if (state.boots.length > MAX_BOOTS) {
    const oldest = state.boots.findIndex((one) => one.bootId !== state.statusBootId);
    state.boots.splice(oldest, 1);
  }
  return boot;
}

function statusOf(status: NodeStatus, arrivedMs: number): StatusHealth {
  return {
    arrivedMs,
    state: status.state,
    batteryPercent: status.batteryPercent,
    batteryMilliVolt: status.batteryMilliVolt,
    bufferFillPermille: status.bufferFillPermille,
    temperatureC: status.temperatureC,
    signalDbm: status.signalDbm,
    resolutionBits: status.resolutionBits,
    fullScaleMPerS2: status.fullScaleMPerS2,
    noiseDensityUmPerS2PerRtHz: status.noiseDensityUmPerS2PerRtHz,
    sensorBandwidthHz: status.sensorBandwidthHz,
    nextStatusWithinS: status.nextStatusWithinS,
    firmwareVersion: status.firmwareVersion,
    sensorPart: status.sensorPart,
  };
}
