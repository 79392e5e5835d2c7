/* Reader of sample packets. A node does not need it: it is for tests and for readers written in C. */
#include "bits.h"
#include "predict.h"
#include "samples.h"
#include "wire.h"

typedef struct {
  const uint8_t *bytes;
  size_t position; /* in bits */
  size_t end;      /* in bits */
  bool ended;      /* read past the end */
} reader;

static uint32_t take(reader *in, uint32_t count) {
  uint32_t value = 0;
  if (in->end - in->position < count) {
    in->ended = true;
    return 0;
  }
  for (; count > 0; count--, in->position++) {
    value = value << 1 | ((uint32_t)in->bytes[in->position >> 3] >> (7 - (in->position & 7)) & 1u);
  }
  return value;
}

/* Zeros before the next one, at most `most`: that many are read without a one behind them. */
static uint32_t take_zeros(reader *in, uint32_t most) {
  uint32_t zeros = 0;
  while (zeros < most && !in->ended && take(in, 1) == 0) zeros++;
  return zeros;
}

static bool take_predictor(reader *in, uint32_t order, clampline_predictor *predictor) {
  predictor->order = order;
  predictor->offset = (int16_t)(take(in, 8) | take(in, 8) << 8);
  for (uint32_t i = 0; i < order; i++) {
    const uint32_t q = take(in, REFLECTION_BITS);
    if (q == 32) return false;
    predictor->reflection[i] = (int8_t)(q < 32 ? (int32_t)q : (int32_t)q - 64);
  }
  clampline_step_up(predictor);
  return !in->ended;
}

static bool take_rice(reader *in, int32_t *rice) {
  if (*rice < 0) {
    *rice = (int32_t)take(in, FIRST_RICE_BITS);
    return true;
  }
  const int32_t zeros = (int32_t)take_zeros(in, 31);
  *rice += (zeros & 1) ? (zeros + 1) / 2 : -zeros / 2;
  return *rice >= 0 && *rice <= MAX_RICE;
}

static bool take_channel(reader *in, int16_t *out, uint32_t count, uint32_t stride) {
  const uint32_t coding = take(in, 8);
  if (coding == CLAMPLINE_PLAIN) {
    for (uint32_t i = 0; i < count && !in->ended; i++) {
      out[i * stride] = (int16_t)(take(in, 8) | take(in, 8) << 8);
    }
    return !in->ended;
  }
  clampline_predictor predictor;
  if (coding > CLAMPLINE_MAX_ORDER || !take_predictor(in, coding, &predictor)) return false;
  int32_t rice = -1;
  for (uint32_t i = 0; i < count; i++) {
    if (i % PARTITION == 0 && !take_rice(in, &rice)) return false;
    const uint32_t zeros = take_zeros(in, ESCAPE);
    const uint32_t folded =
        zeros == ESCAPE ? take(in, 16) : zeros << rice | take(in, (uint32_t)rice);
    if (in->ended || folded > 0xffffu) return false;
    const uint32_t residual = folded >> 1 ^ (folded & 1u ? 0xffffu : 0u);
    int16_t *const at = out + i * stride;
    *at = (int16_t)(((uint32_t)clampline_predict(&predictor, at, i, stride) + residual) & 0xffffu);
  }
  return take(in, (uint32_t)(8 - (in->position & 7)) & 7u) == 0;
}

int32_t clampline_decode_samples(const uint8_t *bytes, size_t length, clampline_packet *packet,
                                 int16_t *frames, size_t frames_size) {
  const size_t longest = clampline_packet_bound(1, CLAMPLINE_MAX_SAMPLES) + CLAMPLINE_MAX_CHANNELS - 1;
  const int32_t opened =
      clampline_open(bytes, length, CLAMPLINE_KIND_SAMPLES, clampline_packet_bound(1, 1), longest);
  if (opened < 0) return opened;
  packet->node_id = clampline_get(bytes + 4, 8);
  packet->boot_id = get32(bytes + 12);
  packet->sequence = get32(bytes + OFFSET_SEQUENCE);
  packet->first_sample = clampline_get(bytes + OFFSET_FIRST_SAMPLE, 8);
  packet->node_clock_us = clampline_get(bytes + OFFSET_NODE_CLOCK, 8);
  packet->nominal_rate_millihz = get32(bytes + OFFSET_RATE);
  packet->full_scale_um_per_s2 = get32(bytes + OFFSET_FULL_SCALE);
  packet->frame_count = (uint16_t)clampline_get(bytes + OFFSET_FRAMES, 2);
  packet->channel_count = bytes[OFFSET_CHANNELS];
  packet->time_source = bytes[OFFSET_TIME_SOURCE];
  packet->capture_mode = bytes[OFFSET_CAPTURE_MODE];
  packet->flags = (uint16_t)clampline_get(bytes + OFFSET_FLAGS, 2);
  const size_t start = OFFSET_LAYOUT + (size_t)packet->channel_count;
  const size_t end = length - CHECKSUM_BYTES;
  if (packet->channel_count < 1 || packet->channel_count > CLAMPLINE_MAX_CHANNELS) {
    return CLAMPLINE_E_BAD_FIELD;
  }
  if (start > end) return CLAMPLINE_E_BAD_LENGTH;
  for (uint32_t i = 0; i < packet->channel_count; i++) packet->layout[i] = bytes[OFFSET_LAYOUT + i];
  if (!clampline_packet_valid(packet) || bytes[OFFSET_ENCODING] > 1) return CLAMPLINE_E_BAD_FIELD;

  const uint32_t count = packet->frame_count;
  const uint32_t values = count * packet->channel_count;
  if (values > frames_size) return CLAMPLINE_E_NO_SPACE;
  if (bytes[OFFSET_ENCODING] == 0) {
    if (end - start != (size_t)2 * values) return CLAMPLINE_E_BAD_LENGTH;
    for (uint32_t i = 0; i < values; i++) {
      frames[i] = (int16_t)clampline_get(bytes + start + (size_t)2 * i, 2);
    }
    return (int32_t)values;
  }
  reader in = {bytes, 8 * start, 8 * end, false};
  for (uint32_t i = 0; i < packet->channel_count; i++) {
    if (!take_channel(&in, frames + i, count, packet->channel_count)) return CLAMPLINE_E_BAD_PAYLOAD;
  }
  return in.position == in.end ? (int32_t)values : CLAMPLINE_E_BAD_PAYLOAD;
}
