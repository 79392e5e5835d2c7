/* The accelerometer as the driver sees it over SPI: registers, FIFO and a clock of its own. For tests without one. */
#ifndef SIMULATED_ACCELEROMETER_H
#define SIMULATED_ACCELEROMETER_H

#include <stddef.h>
#include <stdint.h>

enum { SIMULATED_DEPTH = 32 };

typedef struct {
  uint8_t registers[64];
  int16_t fifo[SIMULATED_DEPTH][3];
  uint32_t first;
  uint32_t held;
  uint64_t produced;   /* frames since it runs */
  uint64_t started_us; /* when it began to run, or its rate changed */
  uint64_t now_us;
  int32_t rate_error_ppm;
} simulated_accelerometer;

void simulated_init(simulated_accelerometer *part, int32_t rate_error_ppm);
/* Lets it measure up to now. */
void simulated_advance(simulated_accelerometer *part, uint64_t now_us);
/* A rap on the clamp. */
void simulated_tap(simulated_accelerometer *part);
/* Value of `axis` in frame `number`, in 13 bits at 16 g: what a test expects to find at the station. */
int16_t simulated_value(uint64_t number, uint32_t axis);
/* One SPI transfer. */
int32_t simulated_transfer(simulated_accelerometer *part, const uint8_t *out, uint8_t *in, size_t length);

#endif
