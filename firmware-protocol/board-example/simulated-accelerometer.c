#include "simulated-accelerometer.h"

enum { ID = 0x00, RATE = 0x2c, POWER = 0x2d, SOURCE = 0x30, FORMAT = 0x31, DATA = 0x32, FIFO = 0x38, FIFO_STATUS = 0x39 };

void simulated_init(simulated_accelerometer *part, int32_t rate_error_ppm) {
  for (uint32_t i = 0; i < sizeof part->registers; i++) part->registers[i] = 0;
  part->registers[ID] = 0xe5;
  part->registers[RATE] = 0x0a;
  part->first = part->held = 0;
  part->produced = part->started_us = part->now_us = 0;
  part->rate_error_ppm = rate_error_ppm;
}

int16_t simulated_value(uint64_t number, uint32_t axis) {
  const uint32_t n = (uint32_t)number;
  const uint32_t scrambled = (n * 3u + axis) * 2654435761u;
  const int32_t noise = (int32_t)(scrambled >> 26) - 32;
  const int32_t saw = (int32_t)(n * (axis + 1u) % 128u) - 64; /* 25 Hz and its multiples at 3200 samples/s */
  return (int16_t)((axis == 2 ? 256 : 0) + 2 * saw + noise);
}

static void produce(simulated_accelerometer *part) {
  if (part->held == SIMULATED_DEPTH) {
    part->first = (part->first + 1) % SIMULATED_DEPTH;
    part->held--;
    part->registers[SOURCE] |= 1; /* overrun */
  }
  int16_t *frame = part->fifo[(part->first + part->held) % SIMULATED_DEPTH];
  /* 13 bits of 16 g, left justified: smaller ranges would clip, which these values never do. */
  const uint32_t shift = 3u + (3u - (part->registers[FORMAT] & 3u));
  for (uint32_t axis = 0; axis < 3; axis++) {
    frame[axis] = (int16_t)(simulated_value(part->produced, axis) * (1 << shift));
  }
  part->held++;
  part->produced++;
}

void simulated_advance(simulated_accelerometer *part, uint64_t now_us) {
  part->now_us = now_us;
  if ((part->registers[POWER] & 8) == 0) {
    part->started_us = now_us;
    part->produced = 0;
    return;
  }
  const uint64_t rate_hz = 3200u >> (0x0f - (part->registers[RATE] & 15));
  const uint64_t us = now_us - part->started_us;
  const uint64_t due = us * rate_hz / 1000000u * (uint64_t)(1000000 + part->rate_error_ppm) / 1000000u;
  while (part->produced < due) produce(part);
}

void simulated_tap(simulated_accelerometer *part) { part->registers[SOURCE] |= 0x40; }

static uint8_t read(simulated_accelerometer *part, uint32_t where) {
  if (where == FIFO_STATUS) return (uint8_t)part->held;
  const uint8_t value = part->registers[where];
  if (where == SOURCE) part->registers[SOURCE] = 0;
  if (where >= DATA && where < DATA + 6) {
    const uint16_t word = (uint16_t)part->fifo[part->first][(where - DATA) / 2];
    return (uint8_t)(((where - DATA) & 1) != 0 ? word >> 8 : word & 255);
  }
  return value;
}

int32_t simulated_transfer(simulated_accelerometer *part, const uint8_t *out, uint8_t *in, size_t length) {
  uint32_t where = out[0] & 63u;
  for (size_t i = 1; i < length; i++, where += (out[0] & 0x40u) != 0 ? 1u : 0u) {
    if ((out[0] & 0x80u) != 0) {
      in[i] = read(part, where & 63u);
    } else {
      if (where == RATE && part->registers[RATE] != out[i]) {
        part->started_us = part->now_us;
        part->produced = 0;
      }
      if (where == FIFO && out[i] == 0) part->held = 0;
      part->registers[where & 63u] = out[i];
    }
  }
  if ((out[0] & 0xbfu) == (0x80u | DATA) && length == 7 && part->held > 0) {
    part->first = (part->first + 1) % SIMULATED_DEPTH;
    part->held--;
  }
  return 0;
}
