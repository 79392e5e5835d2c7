/* Test signals in integers: the same on every machine. */
#ifndef SIGNALS_H
#define SIGNALS_H

#include "../clampline.h"

enum { SIGNAL_ZERO, SIGNAL_NOISE, SIGNAL_RESONANCE, SIGNAL_RAMP, SIGNAL_EXTREMES, SIGNAL_IMPULSES, SIGNAL_KINDS };

/* Fills interleaved frames; every channel gets the signal with a start of its own. */
void signal_fill(uint32_t kind, int16_t *frames, uint32_t frame_count, uint32_t channels);

#endif
