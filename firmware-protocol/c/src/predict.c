#include "predict.h"

/* Products and sums wrap modulo 2^32 on purpose: any coefficients give a defined result on every machine. */
static inline int32_t mul(int32_t a, int32_t b) { return (int32_t)((uint32_t)a * (uint32_t)b); }
static inline int32_t add(int32_t a, int32_t b) { return (int32_t)((uint32_t)a + (uint32_t)b); }
static inline int32_t sub(int32_t a, int32_t b) { return (int32_t)((uint32_t)a - (uint32_t)b); }

void clampline_step_up(clampline_predictor *predictor) {
  int32_t *taps = predictor->taps;
  for (uint32_t m = 0; m < predictor->order; m++) {
    const int32_t q = predictor->reflection[m];
    const int32_t k = q * (64 - (q < 0 ? -q : q)); /* 1 / 1024: fine steps near 1, where they matter */
    /* taps[i] and taps[m - 1 - i] need each other's old value: both at once, from the ends to the middle. */
    for (uint32_t i = 0, j = m; i < j; i++) {
      j--;
      const int32_t low = taps[i];
      const int32_t high = taps[j];
      taps[i] = sub(low, add(mul(k, high), 512) >> 10);
      if (i != j) taps[j] = sub(high, add(mul(k, low), 512) >> 10);
    }
    taps[m] = k * 4;
  }
}

int32_t clampline_predict(const clampline_predictor *predictor, const int16_t *at, uint32_t index,
                          uint32_t stride) {
  const uint32_t order = predictor->order;
  const int32_t *taps = predictor->taps;
  int32_t sum = 2048;
  const uint32_t known = index < order ? index : order;
  for (uint32_t i = 0; i < known; i++) {
    at -= stride;
    sum = add(sum, mul(taps[i], *at - predictor->offset));
  }
  return predictor->offset + (sum >> 12);
}
