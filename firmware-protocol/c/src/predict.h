/* Linear prediction of one channel in 32-bit integers: SPEC.md, 4.2. Internal. */
#ifndef CLAMPLINE_PREDICT_H
#define CLAMPLINE_PREDICT_H

#include "../clampline.h"

/* One channel inside interleaved frames. */
typedef struct {
  const int16_t *samples;
  uint32_t count;
  uint32_t stride; /* channels in a frame */
} clampline_channel;

typedef struct {
  int32_t offset;
  uint32_t order;
  int8_t reflection[CLAMPLINE_MAX_ORDER]; /* -31 to 31 */
  int32_t taps[CLAMPLINE_MAX_ORDER];      /* 1 / 4096 */
} clampline_predictor;

/* Chooses offset, order and coefficients for a channel. */
void clampline_analyse(const clampline_channel *channel, uint32_t max_order, clampline_predictor *predictor);
/* Works out `taps` from `reflection` and `order`: the same in encoder and decoder. */
void clampline_step_up(clampline_predictor *predictor);
/* Prediction of sample `index` from the ones before it, read at `at` backwards in steps of `stride`. */
int32_t clampline_predict(const clampline_predictor *predictor, const int16_t *at, uint32_t index,
                          uint32_t stride);

#endif
