/* Layout of the sample packet, shared by encoder and decoder. Internal. */
#ifndef CLAMPLINE_SAMPLES_H
#define CLAMPLINE_SAMPLES_H

#include "../clampline.h"

enum {
  OFFSET_SEQUENCE = 16,
  OFFSET_FIRST_SAMPLE = 20,
  OFFSET_NODE_CLOCK = 28,
  OFFSET_RATE = 36,
  OFFSET_FULL_SCALE = 40,
  OFFSET_FRAMES = 44,
  OFFSET_CHANNELS = 46,
  OFFSET_ENCODING = 47,
  OFFSET_TIME_SOURCE = 48,
  OFFSET_CAPTURE_MODE = 49,
  OFFSET_FLAGS = 50,
  OFFSET_LAYOUT = 52,
  CHANNEL_HEADER_BYTES = 3, /* coding, offset */
  REFLECTION_BITS = 6
};

bool clampline_packet_valid(const clampline_packet *packet);

static inline bool clampline_rate_valid(uint32_t millihz) { return millihz >= 100 && millihz <= 200000000; }

#endif
