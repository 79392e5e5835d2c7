/** The sample packet as both ends see it. Byte layout: SPEC.md. Types and constants only. */
import type { DecodeFailure } from './errors.ts';

/** How the node's clock relates to the station's. */
export const TimeSource = {
  /** `nodeClockUs` counts microseconds since boot; no exchange of time has succeeded in this boot yet. */
  Free: 0,
  /** `nodeClockUs` counts microseconds since boot; this boot has exchanged time with a station. */
  Synced: 1,
  /** A recording played again: `nodeClockUs` is the Unix time, in microseconds, claimed for the sample. */
  Replay: 2,
} as const;
export type TimeSource = (typeof TimeSource)[keyof typeof TimeSource];

export const CaptureMode = { Continuous: 0, DutyCycled: 1, Triggered: 2 } as const;
export type CaptureMode = (typeof CaptureMode)[keyof typeof CaptureMode];

/** How the samples are written; the choice is the encoder's, packet by packet. */
export const Encoding = { Int16: 0, Predicted: 1 } as const;
export type Encoding = (typeof Encoding)[keyof typeof Encoding];

export const AXIS_NAMES = ['single', 'x', 'y', 'z'] as const;
export type AxisName = (typeof AXIS_NAMES)[number];

/** One accelerometer axis of a board: which sensor of the board, and which of its axes. */
export interface ChannelLayout {
  /** 0-15: boards with several accelerometers number them. */
  sensor: number;
  axis: AxisName;
}

/** Bits of `flags`. */
export const PacketFlag = {
  /** The sensor's own buffer overran just before this packet: samples are missing in front of it. */
  Overrun: 1,
  /** The sensor reported a value outside its range inside this packet. */
  OutOfRange: 2,
  /**
   * First packet after sampling (re)started: the counter stood still while the sensor was off, so counter
   * and clock must not be fitted through this point.
   */
  CaptureStart: 4,
} as const;

export interface SamplePacket {
  /** 64-bit hardware identity as 16 lower-case hex digits; also the MQTT user name and the topic's last part. */
  nodeId: string;
  /** Random for each boot: counters and the node clock start again with it. */
  bootId: number;
  /** Counts the packets of this boot. */
  sequence: number;
  /** Counter, since boot, of the first frame in this packet (one frame = one sample of every channel). */
  firstSample: bigint;
  /** Node clock at the first frame; meaning: see `TimeSource`. */
  nodeClockUs: bigint;
  timeSource: TimeSource;
  captureMode: CaptureMode;
  /** Rate the sensor is set to; the true rate is estimated by the station. */
  nominalRateHz: number;
  /** Acceleration of a digital value of 32768, in m/s²; 0 when the node does not know it. */
  fullScaleMPerS2: number;
  flags: number;
  channels: ChannelLayout[];
  /** `samples[channel][frame]`, raw digital values; value in m/s² = raw / 32768 x fullScaleMPerS2. */
  samples: Int16Array[];
}

export type DecodeResult = { ok: true; packet: SamplePacket } | DecodeFailure;
