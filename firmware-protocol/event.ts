import { type Decoded, DecodeError, fail } from './errors.ts';
import { Kind, MAX_EXACT } from './layout.ts';
import { TimeSource } from './packet.ts';
import { begin, type Header, openSmall, seal, whole, wide } from './wire.ts';

const EVENT_NAMES = [null, 'noise-mark', 'tap', 'command-done', 'command-refused'] as const;
type EventName = Exclude<(typeof EVENT_NAMES)[number], null>;

/** Something that happened at the node. Node to station, topic kind `event`. */
export interface NodeEvent extends Header {
  /** Counts the events of this boot, so that a message that arrives twice is known. */
  eventCount: number;
  /** Node clock at the moment it happened; meaning as in a sample packet. */
  nodeClockUs: bigint;
  timeSource: TimeSource;
  /** Sample counter at that moment; null when not sampling. */
  sample: bigint | null;
  event: EventName;
  /** Sensor that felt a tap; null when it is none in particular. */
  sensor: number | null;
  /** For command results: which command; 0 otherwise. */
  commandId: number;
  /** For `command-refused`: a code of `ErrorCode`; 0 otherwise. */
  result: number;
  /** Tap: peak in mm/s². Command done: the value now set, in the command's own unit. Otherwise 0. */
  value: number;
}

const BYTES = 52;
const NO_SENSOR = 255;
const NO_SAMPLE = 2n ** 64n - 1n;

export function encodeEvent(event: NodeEvent): Uint8Array {
  const view = begin(Kind.Event, BYTES, event);
  view.setUint32(16, whole(event.eventCount, 0, 0xffffffff, 'eventCount'), true);
  view.setBigUint64(20, wide(event.nodeClockUs, MAX_EXACT, 'nodeClockUs'), true);
  view.setBigUint64(28, event.sample === null ? NO_SAMPLE : wide(event.sample, MAX_EXACT, 'sample'), true);
  view.setUint8(36, whole(event.timeSource, 0, 2, 'timeSource'));
  view.setUint8(37, whole(EVENT_NAMES.indexOf(event.event), 1, 4, 'event'));
  view.setUint8(38, event.sensor === null ? NO_SENSOR : whole(event.sensor, 0, 15, 'sensor'));
  view.setUint16(40, whole(event.commandId, 0, 0xffff, 'commandId'), true);
  view.setInt16(42, whole(event.result, -32768, 0, 'result'), true);
  view.setUint32(44, whole(event.value, 0, 0xffffffff, 'value'), true);
  return seal(view);
}

export function decodeEvent(bytes: Uint8Array): Decoded<NodeEvent> {
  const opened = openSmall(bytes, Kind.Event, BYTES);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const nodeClockUs = view.getBigUint64(20, true);
  const sample = view.getBigUint64(28, true);
  const timeSource = view.getUint8(36);
  const event = EVENT_NAMES[view.getUint8(37)];
  const sensor = view.getUint8(38);
  const result = view.getInt16(42, true);
  if (nodeClockUs > MAX_EXACT) return fail(DecodeError.BadField, `node clock ${nodeClockUs}`);
  if (sample > MAX_EXACT && sample !== NO_SAMPLE)
    return fail(DecodeError.BadField, `sample counter ${sample}`);
  if (timeSource > TimeSource.Replay) return fail(DecodeError.BadField, `unknown time source ${timeSource}`);
  if (!event) return fail(DecodeError.BadField, `unknown event ${view.getUint8(37)}`);
  if (sensor > 15 && sensor !== NO_SENSOR) return fail(DecodeError.BadField, `sensor ${sensor}`);
  if (result > 0) return fail(DecodeError.BadField, `result ${result} is above 0`);
  return {
    ok: true,
    message: {
      ...header,
      eventCount: view.getUint32(16, true),
      nodeClockUs,
      timeSource: timeSource as TimeSource,
      sample: sample === NO_SAMPLE ? null : sample,
      event,
      sensor: sensor === NO_SENSOR ? null : sensor,
      commandId: view.getUint16(40, true),
      result,
      value: view.getUint32(44, true),
    },
  };
}
