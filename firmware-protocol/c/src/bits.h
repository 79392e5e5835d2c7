/* Bits, most significant first. Internal. */
#ifndef CLAMPLINE_BITS_H
#define CLAMPLINE_BITS_H

#include "../clampline.h"

typedef struct {
  uint8_t *at;
  uint8_t *end;
  uint32_t pending; /* bits not yet written, in the low end */
  uint32_t held;    /* how many, below 8 between calls */
  bool full;        /* something did not fit: everything from there on is lost */
} clampline_bits;

/* Appends the low `count` bits of `value`; count at most 24. */
void clampline_bits_put(clampline_bits *bits, uint32_t value, uint32_t count);
/* Fills the last byte with zeros. */
void clampline_bits_flush(clampline_bits *bits);

/* Partitions of residuals, each with its own Rice parameter: SPEC.md, 4.2. */
enum { PARTITION = 32, ESCAPE = 24, MAX_RICE = 15, FIRST_RICE_BITS = 4 };

/*
 * Appends one partition of `count` residuals, folded to unsigned. `rice` is the parameter of the partition
 * before, or negative for the first; the new one is returned.
 */
int32_t clampline_rice_put(clampline_bits *bits, const uint16_t *folded, uint32_t count, int32_t rice);

#endif
