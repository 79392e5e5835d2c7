#include "signals.h"

#include "check.h"

static int16_t clip(int32_t value) {
  return (int16_t)(value > 32767 ? 32767 : value < -32768 ? -32768 : value);
}

/* Second-order resonance at about a fifth of the sample rate, driven by noise, on top of gravity. */
static int32_t resonance(int32_t *state, uint32_t *seed) {
  const int32_t drive = (int32_t)(check_random(seed) % 401u) - 200;
  const int32_t next = (state[0] * 1250 - state[1] * 3900) / 4096 + drive;
  state[1] = state[0];
  state[0] = next;
  return 2048 + next;
}

void signal_fill(uint32_t kind, int16_t *frames, uint32_t frame_count, uint32_t channels) {
  for (uint32_t c = 0; c < channels; c++) {
    uint32_t seed = 12345u + 77u * c;
    int32_t state[2] = {0, 0};
    for (uint32_t i = 0; i < frame_count; i++) {
      int32_t value = 0;
      switch (kind) {
        case SIGNAL_NOISE: value = (int32_t)(check_random(&seed) & 0xffffu) - 32768; break;
        case SIGNAL_RESONANCE: value = resonance(state, &seed); break;
        case SIGNAL_RAMP: value = (int32_t)(i * 37u + c * 1000u) - 20000; break;
        case SIGNAL_EXTREMES: value = (check_random(&seed) & 1u) != 0 ? 32767 : -32768; break;
        case SIGNAL_IMPULSES: value = (i + 13u * c) % 97u == 0 ? 20000 : (int32_t)(check_random(&seed) & 7u); break;
        default: break;
      }
      frames[i * channels + c] = clip(value);
    }
  }
}
