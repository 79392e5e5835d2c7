import { type Decoded, DecodeError, fail } from './errors.ts';
import { Kind, MAX_EXACT, MAX_RATE_MILLI_HZ, MIN_RATE_MILLI_HZ } from './layout.ts';
import { TimeSource } from './packet.ts';
import { begin, type Header, openSmall, seal, whole, wide } from './wire.ts';

const NODE_STATES = ['offline', 'sampling', 'stopped', 'asleep'] as const;
export type NodeState = (typeof NODE_STATES)[number];

const RESET_CAUSES = ['unknown', 'power', 'watchdog', 'brown-out', 'software', 'pin'] as const;
export type ResetCause = (typeof RESET_CAUSES)[number];

/** Health of a node. Node to station, topic kind `status`, retained; null means the node does not know. */
export interface NodeStatus extends Header {
  /** `offline` is what the last will says; `asleep` comes before a planned absence. */
  state: NodeState;
  resetCause: ResetCause;
  timeSource: TimeSource;
  /** Battery charge, 0-100. */
  batteryPercent: number | null;
  nodeClockUs: bigint;
  batteryMilliVolt: number | null;
  /** Store-and-forward buffer in use, 0-1000. */
  bufferFillPermille: number | null;
  temperatureC: number | null;
  /** Radio signal strength, -126 to 0 dBm. */
  signalDbm: number | null;
  /** Bits the sensor really resolves. */
  resolutionBits: number | null;
  /** The node promises another status within so many seconds; null: no promise. */
  nextStatusWithinS: number | null;
  /** Sequence the next sample packet of this boot will carry: shows packets missing at the end. */
  nextSequence: number;
  /** Sample packets given up because the buffer was full, in this boot. */
  droppedPackets: number;
  /** Overruns of the sensor's own buffer, in this boot. */
  overruns: number;
  /** Rate and range set now; null when the node does not sample or does not know. */
  nominalRateHz: number | null;
  fullScaleMPerS2: number | null;
  /** Of the sensor part, from its data sheet: µm/s² per √Hz. */
  noiseDensityUmPerS2PerRtHz: number | null;
  /** Of the sensor part, from its data sheet: where its response has fallen by 3 dB. */
  sensorBandwidthHz: number | null;
  /** Printable ASCII, at most 32 characters. */
  firmwareVersion: string;
  /** Sensor part, printable ASCII, at most 32 characters; empty when not known. */
  sensorPart: string;
}

const FIXED_BYTES = 68;
const SHORTEST = FIXED_BYTES + 2 + 4;
const MAX_TEXT = 32;
const PRINTABLE = /^[\x20-\x7e]*$/;

export function encodeStatus(status: NodeStatus): Uint8Array {
  const texts = [
    textOf(status.firmwareVersion, 'firmwareVersion'),
    textOf(status.sensorPart, 'sensorPart'),
  ] as const;
  const view = begin(Kind.Status, SHORTEST + texts[0].length + texts[1].length, status);
  view.setUint8(16, whole(NODE_STATES.indexOf(status.state), 0, 3, 'state'));
  view.setUint8(17, whole(RESET_CAUSES.indexOf(status.resetCause), 0, 5, 'resetCause'));
  view.setUint8(18, whole(status.timeSource, 0, 2, 'timeSource'));
  view.setUint8(19, whole(status.batteryPercent ?? 255, 0, 255, 'batteryPercent'));
  view.setBigUint64(20, wide(status.nodeClockUs, MAX_EXACT, 'nodeClockUs'), true);
  view.setUint16(28, whole(status.batteryMilliVolt ?? 0, 0, 0xffff, 'batteryMilliVolt'), true);
  view.setUint16(30, whole(status.bufferFillPermille ?? 0xffff, 0, 0xffff, 'bufferFillPermille'), true);
  const centiC = status.temperatureC === null ? -32768 : Math.round(status.temperatureC * 100);
  view.setInt16(32, whole(centiC, -32768, 32767, 'temperature in 0.01 °C'), true);
  view.setInt8(34, whole(status.signalDbm ?? 127, -127, 127, 'signalDbm'));
  view.setUint8(35, whole(status.resolutionBits ?? 0, 0, 32, 'resolutionBits'));
  view.setUint32(36, whole(status.nextStatusWithinS ?? 0, 0, 0xffffffff, 'nextStatusWithinS'), true);
  view.setUint32(40, whole(status.nextSequence, 0, 0xffffffff, 'nextSequence'), true);
  view.setUint32(44, whole(status.droppedPackets, 0, 0xffffffff, 'droppedPackets'), true);
  view.setUint32(48, whole(status.overruns, 0, 0xffffffff, 'overruns'), true);
  view.setUint32(52, whole(scaled(status.nominalRateHz, 1e3), 0, 0xffffffff, 'rate in mHz'), true);
  view.setUint32(56, whole(scaled(status.fullScaleMPerS2, 1e6), 0, 0xffffffff, 'full scale in um/s2'), true);
  view.setUint32(
    60,
    whole(scaled(status.noiseDensityUmPerS2PerRtHz, 1), 0, 0xffffffff, 'noiseDensity'),
    true,
  );
  view.setUint32(64, whole(scaled(status.sensorBandwidthHz, 1), 0, 0xffffffff, 'sensorBandwidthHz'), true);
  let at = FIXED_BYTES;
  for (const text of texts) {
    view.setUint8(at++, text.length);
    for (const byte of text) view.setUint8(at++, byte);
  }
  const bytes = seal(view);
  const check = decodeStatus(bytes);
  if (!check.ok) throw new RangeError(check.reason);
  return bytes;
}

function scaled(value: number | null, factor: number): number {
  return value === null ? 0 : Math.round(value * factor);
}

function textOf(text: string, field: string): Uint8Array {
  if (text.length > MAX_TEXT || !PRINTABLE.test(text)) {
    throw new RangeError(`${field} must be at most ${MAX_TEXT} printable ASCII characters`);
  }
  return Uint8Array.from(text, (character) => character.charCodeAt(0));
}

export function decodeStatus(bytes: Uint8Array): Decoded<NodeStatus> {
  const opened = openSmall(bytes, Kind.Status, SHORTEST);
  if (!opened.ok) return opened;
  const { view, header } = opened;
  const bad = (what: string) => fail(DecodeError.BadField, what);
  const state = NODE_STATES[view.getUint8(16)];
  if (!state) return bad(`unknown state ${view.getUint8(16)}`);
  const resetCause = RESET_CAUSES[view.getUint8(17)];
  if (!resetCause) return bad(`unknown reset cause ${view.getUint8(17)}`);
  const timeSource = view.getUint8(18);
  if (timeSource > TimeSource.Replay) return bad(`unknown time source ${timeSource}`);
  const percent = view.getUint8(19);
  if (percent > 100 && percent !== 255) return bad(`battery ${percent} %`);
  const nodeClockUs = view.getBigUint64(20, true);
  if (nodeClockUs > MAX_EXACT) return bad(`node clock ${nodeClockUs}`);
  const permille = view.getUint16(30, true);
  if (permille > 1000 && permille !== 0xffff) return bad(`buffer fill ${permille} permille`);
  const centiC = view.getInt16(32, true);
  const dbm = view.getInt8(34);
  if ((dbm > 0 && dbm !== 127) || dbm < -126) return bad(`signal strength ${dbm} dBm`);
  const bits = view.getUint8(35);
  if (bits > 32) return bad(`resolution ${bits} bits`);
  const rateMilliHz = view.getUint32(52, true);
  if (rateMilliHz !== 0 && (rateMilliHz < MIN_RATE_MILLI_HZ || rateMilliHz > MAX_RATE_MILLI_HZ))
    return bad(`nominal rate ${rateMilliHz} mHz`);
  const firmware = readText(view, FIXED_BYTES);
  if (typeof firmware !== 'string') return firmware;
  const part = readText(view, FIXED_BYTES + 1 + firmware.length);
  if (typeof part !== 'string') return part;
  return {
    ok: true,
    message: {
      ...header,
      state,
      resetCause,
      timeSource: timeSource as TimeSource,
      batteryPercent: percent === 255 ? null : percent,
      nodeClockUs,
      batteryMilliVolt: view.getUint16(28, true) || null,
      bufferFillPermille: permille === 0xffff ? null : permille,
      temperatureC: centiC === -32768 ? null : centiC / 100,
      signalDbm: dbm === 127 ? null : dbm,
      resolutionBits: bits || null,
      nextStatusWithinS: view.getUint32(36, true) || null,
      nextSequence: view.getUint32(40, true),
      droppedPackets: view.getUint32(44, true),
      overruns: view.getUint32(48, true),
      nominalRateHz: rateMilliHz / 1e3 || null,
      fullScaleMPerS2: view.getUint32(56, true) / 1e6 || null,
      noiseDensityUmPerS2PerRtHz: view.getUint32(60, true) || null,
      sensorBandwidthHz: view.getUint32(64, true) || null,
      firmwareVersion: firmware,
      sensorPart: part,
    },
  };
}

function readText(view: DataView, at: number): string | ReturnType<typeof fail> {
  const end = view.byteLength - 4;
  if (at >= end) return fail(DecodeError.BadLength, 'ends inside a text');
  const length = view.getUint8(at);
  if (length > MAX_TEXT) return fail(DecodeError.BadField, `text of ${length} bytes, at most ${MAX_TEXT}`);
  if (at + 1 + length > end) return fail(DecodeError.BadLength, 'ends inside a text');
  let text = '';
  for (let i = 1; i <= length; i++) text += String.fromCharCode(view.getUint8(at + i));
  return PRINTABLE.test(text) ? text : fail(DecodeError.BadField, 'text holds other than printable ASCII');
}

/** The last will a node registers when it connects: offline, everything it cannot know by then unknown. */
export function offlineStatus(header: Header): NodeStatus {
  return {
    nodeId: header.nodeId,
    bootId: header.bootId,
    state: 'offline',
    resetCause: 'unknown',
    timeSource: TimeSource.Free,
    batteryPercent: null,
    nodeClockUs: 0n,
    batteryMilliVolt: null,
    bufferFillPermille: null,
    temperatureC: null,
    signalDbm: null,
    resolutionBits: null,
    nextStatusWithinS: null,
    nextSequence: 0,
    droppedPackets: 0,
    overruns: 0,
    nominalRateHz: null,
    fullScaleMPerS2: null,
    noiseDensityUmPerS2PerRtHz: null,
    sensorBandwidthHz: null,
    firmwareVersion: '',
    sensorPart: '',
  };
}
