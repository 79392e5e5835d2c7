/** The door of this folder: other folders import from here only. */
export { crc32c } from './checksum.ts';
export { decodeCommand, encodeCommand } from './command.ts';
export { decodeSamplePacket } from './decode.ts';
export { encodeSamplePacket } from './encode.ts';
export { DecodeError, type DecodeFailure, ErrorCode } from './errors.ts';
export { decodeEvent, encodeEvent, type NodeEvent } from './event.ts';
export { decodeJournaled, encodeJournaled, type Journaled } from './journaled.ts';
export { MAX_CHANNELS, MAX_FRAMES, MAX_PACKET_BYTES, MAX_SAMPLES } from './layout.ts';
export * from './packet.ts';
export {
  decodeStatus,
  encodeStatus,
  type NodeState,
  type NodeStatus,
  offlineStatus,
  type ResetCause,
} from './status.ts';
export {
  decodeTimeAnswer,
  decodeTimeRequest,
  encodeTimeAnswer,
  encodeTimeRequest,
  exchangeOffset,
  type TimeAnswer,
  type TimeExchange,
  type TimeRequest,
} from './time-exchange.ts';
export * from './topics.ts';
