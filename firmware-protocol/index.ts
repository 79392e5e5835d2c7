/** The door of this folder: other folders import from here only. */
export { crc32c } from './checksum.ts';
export { decodeSamplePacket } from './decode.ts';
export { encodeSamplePacket } from './encode.ts';
export { MAX_FRAMES, MAX_PACKET_BYTES } from './layout.ts';
export * from './packet.ts';
export * from './topics.ts';
