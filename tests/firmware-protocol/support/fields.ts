import {
  AXIS_NAMES,
  decodeCommand,
  decodeEvent,
  decodeJournaled,
  decodeSamplePacket,
  decodeStatus,
  decodeTimeAnswer,
  decodeTimeRequest,
} from '../../../firmware-protocol/index.ts';
import { Kind } from '../../../firmware-protocol/layout.ts';

/** A message's fields as plain values in the order of SPEC.md's tables: how both languages compare notes. */
export type Fields = unknown[];

const STATES = ['offline', 'sampling', 'stopped', 'asleep'];
const CAUSES = ['unknown', 'power', 'watchdog', 'brown-out', 'software', 'pin'];
const EVENTS = [null, 'noise-mark', 'tap', 'command-done', 'command-refused'];
const ACTIONS = [null, 'start', 'stop', 'set-rate', 'set-range', 'identify', 'report'];

const plain = (value: bigint) => Number(value);
const scaled = (value: number | null, factor: number) => Math.round((value ?? 0) * factor);

/** Decodes `bytes` as a message of `kind`: its fields, or the error code. */
export function decodeFields(kind: number, bytes: Uint8Array): Fields | number {
  switch (kind) {
    case Kind.Samples: {
      const decoded = decodeSamplePacket(bytes);
      if (!decoded.ok) return decoded.code;
      const p = decoded.packet;
      const frames = p.samples[0]!.length;
      const values: number[] = [];
      for (let frame = 0; frame < frames; frame++)
        for (const channel of p.samples) values.push(channel[frame]!);
      const layout = p.channels.map((c) => (c.sensor << 4) | AXIS_NAMES.indexOf(c.axis));
      const scale = [scaled(p.nominalRateHz, 1e3), scaled(p.fullScaleMPerS2, 1e6)];
      const counts = [plain(p.firstSample), plain(p.nodeClockUs), ...scale, frames, p.channels.length];
      return [
        p.nodeId,
        p.bootId,
        p.sequence,
        ...counts,
        p.timeSource,
        p.captureMode,
        p.flags,
        layout,
        values,
      ];
    }
    case Kind.Status: {
      const decoded = decodeStatus(bytes);
      if (!decoded.ok) return decoded.code;
      const s = decoded.message;
      return [
        ...[s.nodeId, s.bootId, STATES.indexOf(s.state), CAUSES.indexOf(s.resetCause), s.timeSource],
        ...[
          s.batteryPercent ?? 255,
          plain(s.nodeClockUs),
          s.batteryMilliVolt ?? 0,
          s.bufferFillPermille ?? 65535,
        ],
        ...[s.temperatureC === null ? -32768 : scaled(s.temperatureC, 100), s.signalDbm ?? 127],
        ...[s.resolutionBits ?? 0, s.nextStatusWithinS ?? 0, s.nextSequence, s.droppedPackets, s.overruns],
        ...[scaled(s.nominalRateHz, 1e3), scaled(s.fullScaleMPerS2, 1e6), s.noiseDensityUmPerS2PerRtHz ?? 0],
        ...[s.sensorBandwidthHz ?? 0, s.firmwareVersion, s.sensorPart],
      ];
    }
    case Kind.TimeRequest: {
      const decoded = decodeTimeRequest(bytes);
      if (!decoded.ok) return decoded.code;
      const { nodeId, bootId, t0Us, previous } = decoded.message;
      const last = previous ?? { t0Us: 0n, t1Us: 0n, t2Us: 0n, t3Us: 0n };
      return [nodeId, bootId, ...[t0Us, last.t0Us, last.t1Us, last.t2Us, last.t3Us].map(plain)];
    }
    case Kind.Event: {
      const decoded = decodeEvent(bytes);
      if (!decoded.ok) return decoded.code;
      const e = decoded.message;
      const sample = e.sample === null ? '18446744073709551615' : plain(e.sample);
      const what = [e.timeSource, EVENTS.indexOf(e.event), e.sensor ?? 255, e.commandId, e.result, e.value];
      return [e.nodeId, e.bootId, e.eventCount, plain(e.nodeClockUs), sample, ...what];
    }
    case Kind.TimeAnswer: {
      const decoded = decodeTimeAnswer(bytes);
      if (!decoded.ok) return decoded.code;
      const { nodeId, bootId, t0Us, t1Us, t2Us } = decoded.message;
      return [nodeId, bootId, ...[t0Us, t1Us, t2Us].map(plain)];
    }
    case Kind.Command: {
      const decoded = decodeCommand(bytes);
      if (!decoded.ok) return decoded.code;
      const c = decoded.message;
      let argument = 0;
      if (c.action === 'set-rate') argument = scaled(c.rateHz, 1e3);
      if (c.action === 'set-range') argument = scaled(c.fullScaleMPerS2, 1e6);
      if (c.action === 'identify') argument = c.seconds;
      return [c.nodeId, c.bootId, c.commandId, ACTIONS.indexOf(c.action), argument];
    }
    default: {
      const decoded = decodeJournaled(bytes);
      if (!decoded.ok) return decoded.code;
      const { nodeId, bootId, fromSequence, uptoSequence, uptoSample } = decoded.message;
      return [nodeId, bootId, fromSequence, uptoSequence, plain(uptoSample)];
    }
  }
}
