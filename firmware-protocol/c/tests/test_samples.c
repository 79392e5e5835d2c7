#include <string.h>

#include "check.h"
#include "signals.h"

enum { FRAMES = 256, CHANNELS = 3, ROOM = 52 + CHANNELS + 2 * FRAMES * CHANNELS + 4 };

/* Static: a board's stack is small. */
static int16_t frames[FRAMES * CHANNELS];
static int16_t back[FRAMES * CHANNELS];
static uint8_t bytes[ROOM];

static clampline_packet packet_of(uint32_t channels, uint32_t count) {
  const clampline_packet packet = {.node_id = 0x0011223344556677ull,
                                   .boot_id = 0xb0071d00u,
                                   .sequence = 41,
                                   .first_sample = 41u * FRAMES,
                                   .node_clock_us = 3280000,
                                   .nominal_rate_millihz = 3200000,
                                   .full_scale_um_per_s2 = 156906400,
                                   .frame_count = (uint16_t)count,
                                   .flags = CLAMPLINE_FLAG_OUT_OF_RANGE,
                                   .channel_count = (uint8_t)channels,
                                   .time_source = CLAMPLINE_TIME_SYNCED,
                                   .capture_mode = CLAMPLINE_CONTINUOUS,
                                   .layout = {0x01, 0x02, 0x03}};
  return packet;
}

static int32_t round_trip(check_counts *counts, uint32_t kind, uint32_t channels, uint32_t count, uint8_t order) {
  clampline_packet packet = packet_of(channels, count);
  clampline_packet read;
  signal_fill(kind, frames, count, channels);
  const size_t bound = clampline_packet_bound(channels, count);
  const int32_t length = clampline_encode_samples(&packet, frames, order, bytes, bound);
  CHECK(counts, length > 0 && (size_t)length <= bound);
  if (length <= 0) return length;
  const int32_t values = clampline_decode_samples(bytes, (size_t)length, &read, back, FRAMES * CHANNELS);
  CHECK(counts, values == (int32_t)(channels * count));
  CHECK(counts, memcmp(frames, back, 2 * channels * count) == 0);
  CHECK(counts, read.sequence == packet.sequence && read.first_sample == packet.first_sample);
  CHECK(counts, read.node_clock_us == packet.node_clock_us && read.flags == packet.flags);
  CHECK(counts, read.boot_id == packet.boot_id && read.node_id == packet.node_id);
  return length;
}

static void every_signal(check_counts *counts) {
  static const uint16_t lengths[] = {1, 2, 31, 32, 33, 100, FRAMES};
  static const uint8_t orders[] = {0, 1, 8, 16, CLAMPLINE_PLAIN};
  for (uint32_t kind = 0; kind < SIGNAL_KINDS; kind++) {
    for (uint32_t l = 0; l < sizeof lengths / sizeof *lengths; l++) {
      for (uint32_t o = 0; o < sizeof orders / sizeof *orders; o++) {
        (void)round_trip(counts, kind, 1 + (l + o) % CHANNELS, lengths[l], orders[o]);
      }
    }
  }
}

/* The same bytes on every machine: compared by whoever runs host and board. */
static void digests(check_counts *counts) {
  for (uint32_t kind = 0; kind < SIGNAL_KINDS; kind++) {
    const int32_t length = round_trip(counts, kind, CHANNELS, FRAMES, 16);
    printf("digest %u %d %08x\n", (unsigned)kind, (int)length,
           (unsigned)clampline_crc32c(0, bytes, length > 4 ? (size_t)length - 4 : 0));
  }
  const int32_t predicted = round_trip(counts, SIGNAL_RESONANCE, CHANNELS, FRAMES, 16);
  const int32_t unpredicted = round_trip(counts, SIGNAL_RESONANCE, CHANNELS, FRAMES, 0);
  CHECK(counts, predicted < unpredicted && unpredicted < (int32_t)ROOM);
  /* Noise over the whole range cannot shrink: plain samples, and not one byte more. */
  CHECK(counts, round_trip(counts, SIGNAL_NOISE, CHANNELS, FRAMES, 16) == ROOM);
}

static void refusals(check_counts *counts) {
  clampline_packet packet = packet_of(CHANNELS, FRAMES);
  signal_fill(SIGNAL_ZERO, frames, FRAMES, CHANNELS);
  CHECK(counts, clampline_encode_samples(&packet, frames, 8, bytes, ROOM - 1) == CLAMPLINE_E_NO_SPACE);
  CHECK(counts, clampline_encode_samples(&packet, frames, 17, bytes, ROOM) == CLAMPLINE_E_BAD_ARGUMENT);
  packet.channel_count = 0;
  CHECK(counts, clampline_encode_samples(&packet, frames, 8, bytes, ROOM) == CLAMPLINE_E_BAD_ARGUMENT);
  packet = packet_of(CHANNELS, FRAMES);
  packet.nominal_rate_millihz = 99;
  CHECK(counts, clampline_encode_samples(&packet, frames, 8, bytes, ROOM) == CLAMPLINE_E_BAD_ARGUMENT);
  packet = packet_of(CHANNELS, FRAMES);
  packet.layout[2] = 4;
  CHECK(counts, clampline_encode_samples(&packet, frames, 8, bytes, ROOM) == CLAMPLINE_E_BAD_ARGUMENT);
}

/* Every single bit turned is seen: CRC-32C finds all errors of one bit. */
static void damage(check_counts *counts) {
  clampline_packet read;
  const int32_t length = round_trip(counts, SIGNAL_RESONANCE, 1, 40, 8);
  if (length <= 0) return;
  bool all = true;
  for (int32_t bit = 0; bit < 8 * length; bit++) {
    bytes[bit / 8] ^= (uint8_t)(1u << (bit % 8));
    all = all && clampline_decode_samples(bytes, (size_t)length, &read, back, FRAMES) < 0;
    bytes[bit / 8] ^= (uint8_t)(1u << (bit % 8));
  }
  for (int32_t cut = 0; cut < length; cut++) {
    all = all && clampline_decode_samples(bytes, (size_t)cut, &read, back, FRAMES) < 0;
  }
  CHECK(counts, all);
}

void test_samples(check_counts *counts) {
  every_signal(counts);
  digests(counts);
  refusals(counts);
  damage(counts);
}
