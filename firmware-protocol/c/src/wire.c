#include "wire.h"

/* Four bits at a time: 64 bytes of table instead of 1 KiB. */
static const uint32_t crc_table[16] = {
    0x00000000u, 0x105ec76fu, 0x20bd8edeu, 0x30e349b1u, 0x417b1dbcu, 0x5125dad3u, 0x61c69362u, 0x7198540du,
    0x82f63b78u, 0x92a8fc17u, 0xa24bb5a6u, 0xb21572c9u, 0xc38d26c4u, 0xd3d3e1abu, 0xe330a81au, 0xf36e6f75u};

uint32_t clampline_crc32c(uint32_t crc, const uint8_t *bytes, size_t length) {
  crc = ~crc;
  for (size_t i = 0; i < length; i++) {
    crc ^= bytes[i];
    crc = (crc >> 4) ^ crc_table[crc & 15u];
    crc = (crc >> 4) ^ crc_table[crc & 15u];
  }
  return ~crc;
}

void clampline_zero(void *object, size_t size) {
  uint8_t *bytes = object;
  while (size-- > 0) *bytes++ = 0;
}

void clampline_put(uint8_t *at, uint64_t value, uint32_t bytes) {
  for (uint32_t i = 0; i < bytes; i++) {
    at[i] = (uint8_t)(value & 255u);
    value >>= 8;
  }
}

uint64_t clampline_get(const uint8_t *at, uint32_t bytes) {
  uint64_t value = 0;
  while (bytes > 0) value = value << 8 | at[--bytes];
  return value;
}

void clampline_begin(uint8_t *out, uint8_t kind, uint64_t node_id, uint32_t boot_id) {
  out[0] = 0x43;
  out[1] = 0x4c;
  out[2] = CLAMPLINE_VERSION;
  out[3] = kind;
  clampline_put(out + 4, node_id, 8);
  clampline_put(out + 12, boot_id, 4);
}

int32_t clampline_seal(uint8_t *out, size_t length) {
  clampline_put(out + length, clampline_crc32c(0, out, length), CHECKSUM_BYTES);
  return (int32_t)(length + CHECKSUM_BYTES);
}

int32_t clampline_open(const uint8_t *bytes, size_t length, uint8_t kind, size_t shortest, size_t longest) {
  if (length < shortest) return CLAMPLINE_E_TOO_SHORT;
  if (bytes[0] != 0x43 || bytes[1] != 0x4c) return CLAMPLINE_E_BAD_MAGIC;
  if (bytes[3] != kind) return CLAMPLINE_E_BAD_KIND;
  if (bytes[2] != CLAMPLINE_VERSION) return CLAMPLINE_E_BAD_VERSION;
  if (length > longest) return CLAMPLINE_E_BAD_LENGTH;
  const size_t end = length - CHECKSUM_BYTES;
  if (get32(bytes + end) != clampline_crc32c(0, bytes, end)) return CLAMPLINE_E_BAD_CHECKSUM;
  return 0;
}
