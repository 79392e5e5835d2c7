#include "samples.h"

#include "bits.h"
#include "predict.h"
#include "wire.h"

size_t clampline_packet_bound(uint32_t channel_count, uint32_t frame_count) {
  return (size_t)OFFSET_LAYOUT + channel_count + (size_t)2 * channel_count * frame_count + CHECKSUM_BYTES;
}

bool clampline_packet_valid(const clampline_packet *packet) {
  if (packet->channel_count < 1 || packet->channel_count > CLAMPLINE_MAX_CHANNELS) return false;
  if (packet->frame_count < 1 || packet->frame_count > CLAMPLINE_MAX_FRAMES) return false;
  if ((uint32_t)packet->frame_count * packet->channel_count > CLAMPLINE_MAX_SAMPLES) return false;
  if (!clampline_rate_valid(packet->nominal_rate_millihz)) return false;
  if (packet->time_source > CLAMPLINE_TIME_REPLAY || packet->capture_mode > CLAMPLINE_TRIGGERED) return false;
  if (packet->first_sample > CLAMPLINE_MAX_EXACT || packet->node_clock_us > CLAMPLINE_MAX_EXACT) return false;
  for (uint32_t i = 0; i < packet->channel_count; i++) {
    if ((packet->layout[i] & 15) > CLAMPLINE_AXIS_Z) return false;
  }
  return true;
}

static void put_plain(uint8_t *out, const clampline_channel *channel) {
  for (uint32_t i = 0; i < channel->count; i++) {
    const uint16_t value = (uint16_t)channel->samples[i * channel->stride];
    out[2 * i] = (uint8_t)(value & 255u);
    out[2 * i + 1] = (uint8_t)(value >> 8);
  }
}

/* Writes the bit stream of one channel; `bits->full` says that it did not fit. */
static void put_predicted(clampline_bits *bits, const clampline_channel *channel,
                          const clampline_predictor *predictor) {
  for (uint32_t i = 0; i < predictor->order; i++) {
    clampline_bits_put(bits, (uint32_t)predictor->reflection[i], REFLECTION_BITS);
  }
  uint16_t folded[PARTITION];
  int32_t rice = -1;
  const int16_t *at = channel->samples;
  for (uint32_t start = 0; start < channel->count && !bits->full; start += PARTITION) {
    uint32_t length = channel->count - start;
    if (length > PARTITION) length = PARTITION;
    for (uint32_t i = 0; i < length; i++, at += channel->stride) {
      /* The residual is taken modulo 2^16, so that 16 bits always hold it. */
      const uint32_t residual =
          (uint32_t)*at - (uint32_t)clampline_predict(predictor, at, start + i, channel->stride);
      folded[i] = (uint16_t)((residual << 1 ^ (residual & 0x8000u ? 0xffffu : 0u)) & 0xffffu);
    }
    rice = clampline_rice_put(bits, folded, length, rice);
  }
  clampline_bits_flush(bits);
}

/* One channel in the fewest bytes; NULL when it does not fit before `end`. */
static uint8_t *put_channel(uint8_t *out, const uint8_t *end, const clampline_channel *channel,
                            uint32_t max_order) {
  const size_t room = (size_t)(end - out);
  const size_t plain_bytes = 1 + (size_t)2 * channel->count;
  clampline_predictor predictor;
  clampline_analyse(channel, max_order, &predictor);
  size_t limit = room < plain_bytes ? room : plain_bytes;
  if (limit > CHANNEL_HEADER_BYTES) {
    clampline_bits bits = {out + CHANNEL_HEADER_BYTES, out + limit, 0, 0, false};
    put_predicted(&bits, channel, &predictor);
    if (!bits.full) {
      out[0] = (uint8_t)predictor.order;
      clampline_put(out + 1, (uint16_t)predictor.offset, 2);
      return bits.at;
    }
  }
  if (room < plain_bytes) return NULL;
  out[0] = CLAMPLINE_PLAIN;
  put_plain(out + 1, channel);
  return out + plain_bytes;
}

static void put_header(const clampline_packet *packet, uint8_t *out) {
  clampline_begin(out, CLAMPLINE_KIND_SAMPLES, packet->node_id, packet->boot_id);
  clampline_put(out + OFFSET_SEQUENCE, packet->sequence, 4);
  clampline_put(out + OFFSET_FIRST_SAMPLE, packet->first_sample, 8);
  clampline_put(out + OFFSET_NODE_CLOCK, packet->node_clock_us, 8);
  clampline_put(out + OFFSET_RATE, packet->nominal_rate_millihz, 4);
  clampline_put(out + OFFSET_FULL_SCALE, packet->full_scale_um_per_s2, 4);
  clampline_put(out + OFFSET_FRAMES, packet->frame_count, 2);
  out[OFFSET_CHANNELS] = packet->channel_count;
  out[OFFSET_TIME_SOURCE] = packet->time_source;
  out[OFFSET_CAPTURE_MODE] = packet->capture_mode;
  clampline_put(out + OFFSET_FLAGS, packet->flags, 2);
  for (uint32_t i = 0; i < packet->channel_count; i++) out[OFFSET_LAYOUT + i] = packet->layout[i];
}

int32_t clampline_encode_samples(const clampline_packet *packet, const int16_t *frames, uint8_t max_order,
                                 uint8_t *out, size_t out_size) {
  if (!clampline_packet_valid(packet)) return CLAMPLINE_E_BAD_ARGUMENT;
  if (max_order > CLAMPLINE_MAX_ORDER && max_order != CLAMPLINE_PLAIN) return CLAMPLINE_E_BAD_ARGUMENT;
  const size_t bound = clampline_packet_bound(packet->channel_count, packet->frame_count);
  if (out_size < bound) return CLAMPLINE_E_NO_SPACE;
  put_header(packet, out);

  uint8_t *const start = out + OFFSET_LAYOUT + packet->channel_count;
  /* One byte less than plain samples take: a tie goes to the plain ones, which are quicker to read. */
  const uint8_t *const end = out + bound - CHECKSUM_BYTES - 1;
  uint8_t *at = max_order == CLAMPLINE_PLAIN ? NULL : start;
  for (uint32_t i = 0; i < packet->channel_count && at != NULL; i++) {
    const clampline_channel channel = {frames + i, packet->frame_count, packet->channel_count};
    at = put_channel(at, end, &channel, max_order);
  }
  out[OFFSET_ENCODING] = at == NULL ? 0 : 1;
  if (at == NULL) {
    const uint32_t values = (uint32_t)packet->frame_count * packet->channel_count;
    const clampline_channel all = {frames, values, 1};
    put_plain(start, &all);
    at = start + 2 * values;
  }
  return clampline_seal(out, (size_t)(at - out));
}
