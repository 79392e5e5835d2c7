/* Little-endian access and the header every message shares. Internal. */
#ifndef CLAMPLINE_WIRE_H
#define CLAMPLINE_WIRE_H

#include "../clampline.h"

enum { HEADER_BYTES = 16, CHECKSUM_BYTES = 4 };

/* Sets an object of the caller to zero in place: a second one on the stack would be dear on a small chip. */
void clampline_zero(void *object, size_t size);
void clampline_put(uint8_t *at, uint64_t value, uint32_t bytes);
uint64_t clampline_get(const uint8_t *at, uint32_t bytes);

/* Writes magic, version, kind, node id and boot id. */
void clampline_begin(uint8_t *out, uint8_t kind, uint64_t node_id, uint32_t boot_id);
/* Writes the checksum behind `length` bytes; returns the whole length. */
int32_t clampline_seal(uint8_t *out, size_t length);
/* Checks everything up to the fields, in the order of SPEC.md section 3. */
int32_t clampline_open(const uint8_t *bytes, size_t length, uint8_t kind, size_t shortest, size_t longest);

static inline uint32_t get32(const uint8_t *at) {
  return (uint32_t)at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

#endif
