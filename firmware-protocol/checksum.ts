/**
 * CRC-32C (Castagnoli), reflected, polynomial 0x1EDC6F41, initial value and final XOR 0xFFFFFFFF;
 * check value of "123456789" is 0xE3069283 (RFC 3720, appendix B.4).
 */

const TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0x82f63b78 : crc >>> 1;
  return crc;
});

/** Checksum of `bytes`; pass an earlier result as `crc` to go on where it ended. */
export function crc32c(bytes: Uint8Array, crc = 0): number {
  let state = ~crc;
  for (let i = 0; i < bytes.length; i++) state = TABLE[(state ^ bytes[i]!) & 0xff]! ^ (state >>> 8);
  return ~state >>> 0;
}
