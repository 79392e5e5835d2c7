#include "bits.h"

void clampline_bits_put(clampline_bits *bits, uint32_t value, uint32_t count) {
  bits->pending = bits->pending << count | (value & ((1u << count) - 1u));
  bits->held += count;
  while (bits->held >= 8) {
    bits->held -= 8;
    if (bits->at == bits->end) {
      bits->full = true;
      continue;
    }
    *bits->at++ = (uint8_t)(bits->pending >> bits->held & 255u);
  }
}

void clampline_bits_flush(clampline_bits *bits) {
  if (bits->held > 0) clampline_bits_put(bits, 0, 8 - bits->held);
}

/*
 * The parameter that costs least for a geometric distribution of this mean: 2^k next to mean x ln 2
 * (R. F. Rice, JPL Publication 79-22, 1979; with 11/16 for ln 2).
 */
static int32_t choose(const uint16_t *folded, uint32_t count) {
  uint32_t sum = 0;
  for (uint32_t i = 0; i < count; i++) sum += folded[i];
  const uint32_t target = sum * 11 / 16; /* 32 x 65535 x 11 < 2^25 */
  int32_t rice = 0;
  /* Up to the next power while it is nearer, on a logarithmic scale with the turn at 1.4. */
  while (rice < MAX_RICE && (count * 7 << rice) / 5 < target) rice++;
  return rice;
}

int32_t clampline_rice_put(clampline_bits *bits, const uint16_t *folded, uint32_t count, int32_t rice) {
  const int32_t chosen = choose(folded, count);
  if (rice < 0) {
    clampline_bits_put(bits, (uint32_t)chosen, FIRST_RICE_BITS);
  } else {
    const int32_t step = chosen - rice;
    const uint32_t zeros = (uint32_t)(step > 0 ? 2 * step - 1 : -2 * step); /* at most 30 */
    if (zeros >= 16) clampline_bits_put(bits, 0, 16);
    clampline_bits_put(bits, 1, zeros % 16 + 1);
  }
  const uint32_t k = (uint32_t)chosen;
  for (uint32_t i = 0; i < count; i++) {
    const uint32_t zeros = (uint32_t)folded[i] >> k;
    if (zeros >= ESCAPE) {
      clampline_bits_put(bits, 0, ESCAPE);
      clampline_bits_put(bits, folded[i], 16);
      continue;
    }
    if (zeros + 1 + k <= 24) {
      clampline_bits_put(bits, 1u << k | (folded[i] & ((1u << k) - 1u)), zeros + 1 + k);
    } else {
      clampline_bits_put(bits, 0, zeros);
      clampline_bits_put(bits, 1u << k | (folded[i] & ((1u << k) - 1u)), 1 + k);
    }
  }
  return chosen;
}
