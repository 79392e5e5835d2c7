/*
 * Driver for the ADXL345, a three-axis accelerometer of general use (up to 16 g, 3200 samples a second, FIFO of 32
 * frames), over SPI: mode 3, at most 5 MHz. Register numbers and bits: its data sheet, "Register map", written
 * here from memory; check them against yours.
 */
#ifndef ACCELEROMETER_H
#define ACCELEROMETER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { ACCELEROMETER_FIFO_FRAMES = 32, ACCELEROMETER_AXES = 3 };

typedef struct {
  void *context;
  /* One transfer with chip select low: sends and receives `length` bytes. 0, or negative when it failed. */
  int32_t (*transfer)(void *context, const uint8_t *out, uint8_t *in, size_t length);
} accelerometer_bus;

typedef struct {
  accelerometer_bus bus;
  uint32_t rate_millihz;
  uint32_t full_scale_um_per_s2; /* what a digital 32768 stands for */
  bool overrun; /* seen, not yet told */
  bool tap;     /* the same */
} accelerometer;

typedef struct {
  uint32_t count; /* frames read, 0 to 32 */
  bool overrun;   /* the FIFO ran over since the last reading */
  bool tap;
  int16_t frames[ACCELEROMETER_FIFO_FRAMES * ACCELEROMETER_AXES]; /* x, y, z of each */
} accelerometer_batch;

/* Checks that the part answers and sets 3200 samples/s, 16 g, stopped. Negative: no such part, or the bus failed. */
int32_t accelerometer_init(accelerometer *sensor, const accelerometer_bus *bus);
/* Takes the nearest rate the part has. */
int32_t accelerometer_set_rate(accelerometer *sensor, uint32_t millihz);
/* Takes the smallest range that holds this value; negative when none does. */
int32_t accelerometer_set_range(accelerometer *sensor, uint32_t um_per_s2);
int32_t accelerometer_run(const accelerometer *sensor, bool on);
/*
 * Empties the FIFO. Call when its watermark interrupt comes, or every 5 ms. When the FIFO runs over while it is read,
 * nobody can say between which frames: they are thrown away, and the next batch says so.
 */
int32_t accelerometer_read(accelerometer *sensor, accelerometer_batch *batch);

#endif
