/*
 * The encoder's choice of predictor: autocorrelation of the windowed channel, then reflection coefficients
 * by the Schur recursion (J. Le Roux and C. Gueguen, "A fixed point computation of partial correlation
 * coefficients", IEEE Trans. ASSP 25, 1977), whose numbers never outgrow the signal's power: fit for 32 bits.
 * Nothing here is normative: a decoder follows whatever was chosen.
 */
#include "predict.h"

enum {
  CHUNK = 64,          /* frames windowed at once: bounds the stack */
  LEVEL_BITS = 11,     /* windowed samples stay below 2^11, so that 256 products fit in 32 bits */
  COEFFICIENT_BITS = 6 /* cost of one reflection coefficient on the wire */
};

static int32_t magnitude(int32_t value) { return value < 0 ? -value : value; }

/* Mean of the channel: gravity and the sensor's zero error would drown everything else. */
static int32_t mean_of(const clampline_channel *channel) {
  int32_t sum = 0; /* at most 8192 x 32768 = 2^28 */
  for (uint32_t i = 0; i < channel->count; i++) sum += channel->samples[i * channel->stride];
  return sum / (int32_t)channel->count;
}

static int32_t peak_of(const clampline_channel *channel, int32_t offset) {
  int32_t peak = 0;
  for (uint32_t i = 0; i < channel->count; i++) {
    const int32_t value = magnitude(channel->samples[i * channel->stride] - offset);
    if (value > peak) peak = value;
  }
  return peak;
}

/* Sample `index`, offset removed, ends tapered over 2^ramp frames, scaled below 2^LEVEL_BITS. */
static int16_t windowed(const clampline_channel *channel, uint32_t index, int32_t offset, uint32_t ramp,
                        uint32_t shift) {
  int32_t value = channel->samples[index * channel->stride] - offset;
  const uint32_t from_end = channel->count - 1 - index;
  const uint32_t edge = index < from_end ? index : from_end;
  if (edge >> ramp == 0) value = value * (int32_t)(2 * edge + 1) >> (ramp + 1);
  return (int16_t)(value >> shift);
}

/* r[lag] = sum over frames of w[n] w[n - lag]; at most 8192 x 2^22 = 2^35. */
static void autocorrelate(const clampline_channel *channel, int32_t offset, uint32_t shift, uint32_t lags,
                          int64_t *r) {
  int16_t buffer[CLAMPLINE_MAX_ORDER + CHUNK];
  uint32_t ramp = 0;
  while (16u << ramp <= channel->count) ramp++; /* between a sixteenth and an eighth */
  for (uint32_t i = 0; i < CLAMPLINE_MAX_ORDER; i++) buffer[i] = 0;
  for (uint32_t lag = 0; lag <= lags; lag++) r[lag] = 0;
  int16_t *const now = buffer + CLAMPLINE_MAX_ORDER;
  for (uint32_t start = 0; start < channel->count; start += CHUNK) {
    uint32_t length = channel->count - start;
    if (length > CHUNK) length = CHUNK;
    for (uint32_t i = 0; i < length; i++) now[i] = windowed(channel, start + i, offset, ramp, shift);
    for (uint32_t lag = 0; lag <= lags; lag++) {
      const int16_t *const then = now - lag;
      int32_t sum = 0;
      for (uint32_t i = 0; i < length; i++) sum += now[i] * then[i];
      r[lag] += sum;
    }
    for (uint32_t i = 0; i < CLAMPLINE_MAX_ORDER; i++) buffer[i] = buffer[CHUNK + i];
  }
}

/* numerator / denominator in 1 / 32768, for 0 <= numerator < denominator < 2^30, by long division. */
static int32_t ratio(int32_t numerator, int32_t denominator) {
  int32_t result = 0;
  for (int bit = 0; bit < 15; bit++) {
    numerator *= 2;
    result *= 2;
    if (numerator >= denominator) {
      numerator -= denominator;
      result++;
    }
  }
  return result;
}

/* value x k / 32768 without a 64-bit product; |value| < 2^30, |k| < 2^15. */
static int32_t scale(int32_t value, int32_t k) {
  return (value >> 15) * k + ((value & 32767) * k >> 15);
}

/* Nearest wire value of |k|, k in 1 / 32768. */
static int32_t quantise(int32_t k) {
  int32_t q = 0;
  /* Half way between q and q + 1: (q (64 - q) + (q + 1) (63 - q)) / 2 / 1024. */
  while (q < 31 && k > (q * (64 - q) + (q + 1) * (63 - q)) * 16) q++;
  return q;
}

static uint32_t reflect(const int64_t *r64, uint32_t lags, uint32_t count, int8_t *reflection) {
  int32_t u[CLAMPLINE_MAX_ORDER + 1];
  int32_t v[CLAMPLINE_MAX_ORDER + 1];
  uint32_t right = 0;
  uint32_t left = 0;
  while (r64[0] >> right >= 1 << 29) right++;
  while (r64[0] << left < 1 << 28) left++;
  for (uint32_t i = 0; i <= lags; i++) v[i] = (int32_t)((r64[i] >> right) * (1 << left));
  for (uint32_t i = 0; i < lags; i++) u[i] = v[i + 1];
  v[0]++;

  uint32_t best_order = 0;
  int32_t gain = 0;
  int32_t best_gain = 0;
  for (uint32_t m = 0; m < lags; m++) {
    const int32_t size = magnitude(u[0]);
    if (size >= v[0]) break;
    int32_t k = ratio(size, v[0]);
    const int32_t q = quantise(k);
    reflection[m] = (int8_t)(u[0] < 0 ? -q : q);
    if (u[0] < 0) k = -k;
    /* Bits saved: count / 2 x -log2(1 - k^2), at least count x 0.72 k^2, against bits spent; in 1/256. */
    const int32_t k8 = k / 128;
    gain += ((int32_t)(count * (uint32_t)(k8 * k8) >> 8) * 185 >> 8) - COEFFICIENT_BITS * 256;
    if (gain > best_gain) {
      best_gain = gain;
      best_order = m + 1;
    }
    v[0] -= scale(u[0], k);
    for (uint32_t i = 1; i < lags - m; i++) {
      const int32_t old_u = u[i];
      u[i - 1] = old_u - scale(v[i], k);
      v[i] -= scale(old_u, k);
    }
  }
  return best_order;
}

/* Sum of |taps| x peak must stay in 32 bits, or the prediction wraps and is worthless. */
static bool fits(const clampline_predictor *predictor, int32_t peak) {
  uint32_t sum = 0;
  for (uint32_t i = 0; i < predictor->order; i++) {
    const uint32_t size = (uint32_t)magnitude(predictor->taps[i]);
    if (size > 1u << 24) return false;
    sum += size;
  }
  return sum < 0x7fffffffu / ((uint32_t)peak + 1);
}

void clampline_analyse(const clampline_channel *channel, uint32_t max_order, clampline_predictor *predictor) {
  int64_t r[CLAMPLINE_MAX_ORDER + 1];
  predictor->offset = mean_of(channel);
  predictor->order = 0;
  uint32_t lags = max_order < channel->count / 16 ? max_order : channel->count / 16;
  const int32_t peak = peak_of(channel, predictor->offset);
  if (lags == 0 || peak == 0) return;
  uint32_t shift = 0;
  while (peak >> shift >= 1 << LEVEL_BITS) shift++;
  autocorrelate(channel, predictor->offset, shift, lags, r);
  if (r[0] <= 0) return;
  predictor->order = reflect(r, lags, channel->count, predictor->reflection);
  for (;;) {
    clampline_step_up(predictor);
    if (fits(predictor, peak)) return;
    predictor->order--;
  }
}
