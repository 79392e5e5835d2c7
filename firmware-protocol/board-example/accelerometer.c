#include "accelerometer.h"

#include "../c/clampline.h"

enum {
  REG_DEVICE_ID = 0x00,
  REG_TAP_THRESHOLD = 0x1d, /* 62.5 mg */
  REG_TAP_DURATION = 0x21,  /* 625 us */
  REG_TAP_AXES = 0x2a,
  REG_RATE = 0x2c,
  REG_POWER = 0x2d,
  REG_INTERRUPTS = 0x2e,
  REG_SOURCE = 0x30,
  REG_FORMAT = 0x31,
  REG_DATA = 0x32,
  REG_FIFO = 0x38,
  REG_FIFO_STATUS = 0x39,

  READ = 0x80,
  MANY = 0x40,
  DEVICE_ID = 0xe5,
  FASTEST = 0x0f, /* 3200 samples/s; each step down halves it */
  SLOWEST = 0x08, /* 25 samples/s */
  MEASURE = 0x08,
  LEFT_JUSTIFIED = 0x04,
  FULL_RESOLUTION = 0x08,
  STREAM_HALF = 0x90, /* FIFO keeps the newest; watermark at 16 frames */
  SOURCE_OVERRUN = 0x01,
  SOURCE_WATERMARK = 0x02,
  SOURCE_TAP = 0x40,
  TAP_3_G = 48,
  TAP_10_MS = 16,
  TAP_ALL_AXES = 0x07
};

static const uint32_t FASTEST_MILLIHZ = 3200000;
static const uint32_t TWO_G_UM_PER_S2 = 19613300; /* standard gravity, 9.80665 m/s2 */

static int32_t put(const accelerometer *sensor, uint8_t where, uint8_t value) {
  const uint8_t out[2] = {where, value};
  uint8_t in[2];
  return sensor->bus.transfer(sensor->bus.context, out, in, sizeof out);
}

static int32_t get(const accelerometer *sensor, uint8_t where, uint8_t *value) {
  const uint8_t out[2] = {(uint8_t)(where | READ), 0};
  uint8_t in[2] = {0, 0};
  const int32_t result = sensor->bus.transfer(sensor->bus.context, out, in, sizeof out);
  *value = in[1];
  return result;
}

/* What the FIFO holds was measured with the settings before: bypass empties it. */
static int32_t empty_fifo(const accelerometer *sensor) {
  if (put(sensor, REG_FIFO, 0) < 0 || put(sensor, REG_FIFO, STREAM_HALF) < 0) return CLAMPLINE_E_HARDWARE;
  return 0;
}

int32_t accelerometer_init(accelerometer *sensor, const accelerometer_bus *bus) {
  static const uint8_t settings[][2] = {{REG_POWER, 0},
                                        {REG_TAP_THRESHOLD, TAP_3_G},
                                        {REG_TAP_DURATION, TAP_10_MS},
                                        {REG_TAP_AXES, TAP_ALL_AXES},
                                        {REG_INTERRUPTS, SOURCE_WATERMARK | SOURCE_TAP | SOURCE_OVERRUN}};
  uint8_t id;
  sensor->bus = *bus;
  sensor->overrun = sensor->tap = false;
  if (get(sensor, REG_DEVICE_ID, &id) < 0 || id != DEVICE_ID) return CLAMPLINE_E_HARDWARE;
  for (size_t i = 0; i < sizeof settings / sizeof *settings; i++) {
    if (put(sensor, settings[i][0], settings[i][1]) < 0) return CLAMPLINE_E_HARDWARE;
  }
  const int32_t result = accelerometer_set_rate(sensor, FASTEST_MILLIHZ);
  return result < 0 ? result : accelerometer_set_range(sensor, 8 * TWO_G_UM_PER_S2);
}

int32_t accelerometer_set_rate(accelerometer *sensor, uint32_t millihz) {
  uint8_t code = FASTEST;
  uint32_t rate = FASTEST_MILLIHZ;
  /* Down while the half lies nearer, by ratio: below rate / sqrt(2). */
  while (code > SLOWEST && millihz < rate / 7 * 5) {
    code--;
    rate /= 2;
  }
  if (put(sensor, REG_RATE, code) < 0) return CLAMPLINE_E_HARDWARE;
  sensor->rate_millihz = rate;
  return empty_fifo(sensor);
}

int32_t accelerometer_set_range(accelerometer *sensor, uint32_t um_per_s2) {
  uint8_t code = 0;
  uint32_t range = TWO_G_UM_PER_S2;
  while (range < um_per_s2) {
    if (code == 3) return CLAMPLINE_E_UNSUPPORTED;
    code++;
    range *= 2;
  }
  /* Left justified, so that 16 bits stand for the range whatever it is. */
  if (put(sensor, REG_FORMAT, (uint8_t)(FULL_RESOLUTION | LEFT_JUSTIFIED | code)) < 0) return CLAMPLINE_E_HARDWARE;
  sensor->full_scale_um_per_s2 = range;
  return empty_fifo(sensor);
}

int32_t accelerometer_run(const accelerometer *sensor, bool on) {
  return put(sensor, REG_POWER, on ? MEASURE : 0) < 0 ? CLAMPLINE_E_HARDWARE : 0;
}

/* Reading the source register clears it, so what it said is kept. */
static int32_t look(accelerometer *sensor) {
  uint8_t source;
  if (get(sensor, REG_SOURCE, &source) < 0) return CLAMPLINE_E_HARDWARE;
  sensor->overrun = sensor->overrun || (source & SOURCE_OVERRUN) != 0;
  sensor->tap = sensor->tap || (source & SOURCE_TAP) != 0;
  return 0;
}

int32_t accelerometer_read(accelerometer *sensor, accelerometer_batch *batch) {
  uint8_t held;
  batch->count = 0;
  if (look(sensor) < 0 || get(sensor, REG_FIFO_STATUS, &held) < 0) return CLAMPLINE_E_HARDWARE;
  batch->overrun = sensor->overrun;
  batch->tap = sensor->tap;
  sensor->overrun = sensor->tap = false;
  for (held &= 63; held > 0 && batch->count < ACCELEROMETER_FIFO_FRAMES; held--) {
    /* Reading all six bytes at once takes one frame out of the FIFO. */
    const uint8_t out[7] = {REG_DATA | READ | MANY, 0, 0, 0, 0, 0, 0};
    uint8_t in[7];
    if (sensor->bus.transfer(sensor->bus.context, out, in, sizeof out) < 0) return CLAMPLINE_E_HARDWARE;
    int16_t *frame = batch->frames + batch->count * ACCELEROMETER_AXES;
    for (int axis = 0; axis < ACCELEROMETER_AXES; axis++) {
      frame[axis] = (int16_t)(uint16_t)(in[1 + 2 * axis] | in[2 + 2 * axis] << 8);
    }
    batch->count++;
  }
  if (look(sensor) < 0) return CLAMPLINE_E_HARDWARE;
  if (sensor->overrun || batch->count == 0) {
    sensor->overrun = sensor->overrun || batch->overrun;
    sensor->tap = sensor->tap || batch->tap;
    batch->count = 0;
  }
  return 0;
}
