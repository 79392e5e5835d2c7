#include <string.h>

#include "../clampline_node.h"
#include "../src/wire.h"
#include "check.h"
#include "signals.h"

enum { FRAMES = 64, CHANNELS = 3, MEMORY = 3000, KINDS = 8 };

/* A link that counts what it is given and can be busy. */
typedef struct {
  uint64_t now_us;
  bool busy;
  uint32_t published[KINDS];
  uint32_t last_ticket;
  uint32_t last_sequence;
  uint8_t last[CLAMPLINE_STATUS_BYTES_MAX];
  size_t last_length;
} link_state;

static int16_t buffer[FRAMES * CHANNELS];
static int16_t input[FRAMES * CHANNELS];
static uint8_t memory[MEMORY];
static link_state link;
static clampline_node node;

static uint64_t clock_us(void *context) { return ((link_state *)context)->now_us; }

static int32_t publish(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  link_state *to = context;
  if (to->busy) return CLAMPLINE_E_HARDWARE;
  to->published[kind & (KINDS - 1)]++;
  to->last_ticket = ticket;
  if (kind == CLAMPLINE_KIND_SAMPLES) to->last_sequence = get32(bytes + 16);
  to->last_length = length < sizeof to->last ? length : sizeof to->last;
  memcpy(to->last, bytes, to->last_length);
  return 0;
}

static int32_t command(void *context, const clampline_command *command, uint32_t *value) {
  (void)context;
  if (command->action == CLAMPLINE_SET_RANGE) return CLAMPLINE_E_UNSUPPORTED;
  if (command->action != CLAMPLINE_SET_RATE) return 0;
  *value = 1600000;
  return clampline_node_new_boot(&node, 77, 1600000, 156906400);
}

static void begin(check_counts *counts, bool until_journaled) {
  const clampline_node_config config = {
      .port = {&link, clock_us, publish, command},
      .packet = {.node_id = 7,
                 .boot_id = 9,
                 .nominal_rate_millihz = 3200000,
                 .full_scale_um_per_s2 = 156906400,
                 .channel_count = CHANNELS,
                 .layout = {1, 2, 3}},
      .frames_per_packet = FRAMES,
      .max_order = 8,
      .in_flight = 2,
      .until_journaled = until_journaled,
      .frames = buffer,
      .memory = memory,
      .memory_size = MEMORY,
  };
  memset(&link, 0, sizeof link);
  CHECK(counts, clampline_node_init(&node, &config) == 0);
  signal_fill(SIGNAL_RESONANCE, input, FRAMES, CHANNELS);
}

static void feed(uint32_t packets) {
  for (uint32_t i = 0; i < packets; i++) {
    (void)clampline_node_frames(&node, input, FRAMES, link.now_us, 0, 0);
    link.now_us += FRAMES * 312;
  }
}

static void live(check_counts *counts) {
  begin(counts, false);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_STATUS] == 0);
  clampline_node_connected(&node);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_STATUS] == 1 && link.published[CLAMPLINE_KIND_TIME_REQUEST] == 1);
  feed(3);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_SAMPLES] == 2); /* in_flight */
  clampline_node_acknowledged(&node, link.last_ticket - 1);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_SAMPLES] == 3 && link.last_sequence == 2);
  CHECK(counts, node.queue.count == 2);
  /* The connection breaks: what was not acknowledged goes out again, oldest first. */
  clampline_node_disconnected(&node);
  feed(1);
  clampline_node_connected(&node);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_SAMPLES] == 5 && link.last_sequence == 2);
  link.busy = true;
  CHECK(counts, clampline_node_event(&node, CLAMPLINE_NOISE_MARK, CLAMPLINE_NO_SENSOR, 0) == 0);
  CHECK(counts, node.queue.count == 4);
}

static void out_of_reach(check_counts *counts) {
  begin(counts, false);
  feed(40);
  CHECK(counts, node.queue.dropped > 0 && node.queue.dropped + node.queue.count == 40);
  CHECK(counts, node.config.packet.sequence == 40 && node.next_sample == 40u * FRAMES);
  clampline_node_connected(&node);
  uint32_t expected = node.queue.dropped;
  while (node.queue.count > 0) {
    const uint32_t before = node.queue.count;
    clampline_node_poll(&node);
    for (uint32_t sent = node.sent; sent > 0; sent--) clampline_node_acknowledged(&node, node.queue.ticket);
    CHECK(counts, node.queue.count < before);
    if (node.queue.count >= before) return;
    expected += before - node.queue.count;
  }
  CHECK(counts, expected == 40 && link.last_sequence == 39);
}

static size_t station_journaled(uint8_t *bytes, uint32_t from, uint32_t upto) {
  clampline_begin(bytes, CLAMPLINE_KIND_JOURNALED, 7, 9);
  clampline_put(bytes + 16, from, 4);
  clampline_put(bytes + 20, upto, 4);
  clampline_put(bytes + 24, upto * FRAMES, 8);
  return (size_t)clampline_seal(bytes, 32);
}

static void keeps_until_journaled(check_counts *counts) {
  uint8_t bytes[40];
  begin(counts, true);
  link.now_us = 20000000;
  clampline_node_connected(&node);
  for (uint32_t i = 0; i < 4; i++) {
    feed(1);
    clampline_node_poll(&node);
    clampline_node_acknowledged(&node, link.last_ticket);
  }
  CHECK(counts, node.queue.count == 4); /* acknowledged is not journaled */
  CHECK(counts, clampline_node_message(&node, bytes, station_journaled(bytes, 0, 1)) == 0);
  CHECK(counts, node.queue.count == 3);
  /* Packet 1 was lost between broker and station: it comes again. */
  const uint32_t before = link.published[CLAMPLINE_KIND_SAMPLES];
  CHECK(counts, clampline_node_message(&node, bytes, station_journaled(bytes, 2, 4)) == 0);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_SAMPLES] > before);
  CHECK(counts, clampline_node_message(&node, bytes, station_journaled(bytes, 0, 4)) == 0);
  CHECK(counts, node.queue.count == 0);
}

static size_t station_command(uint8_t *bytes, uint16_t id, uint8_t action, uint32_t argument) {
  clampline_begin(bytes, CLAMPLINE_KIND_COMMAND, 7, 0);
  clampline_put(bytes + 16, id, 2);
  clampline_put(bytes + 18, action, 2);
  clampline_put(bytes + 20, argument, 4);
  return (size_t)clampline_seal(bytes, 24);
}

/* No journaled message speaks of an event: its acknowledgement must free it, and what was kept behind it. */
static void events_among_kept(check_counts *counts) {
  uint8_t bytes[40];
  begin(counts, true);
  clampline_node_connected(&node);
  clampline_node_poll(&node);
  CHECK(counts, clampline_node_message(&node, bytes, station_command(bytes, 1, CLAMPLINE_SET_RANGE, 5)) == 0);
  clampline_node_poll(&node);
  const uint32_t event = link.last_ticket;
  feed(1);
  clampline_node_poll(&node);
  CHECK(counts, node.queue.count == 2);
  CHECK(counts, clampline_node_message(&node, bytes, station_journaled(bytes, 0, 1)) == 0);
  clampline_node_acknowledged(&node, event);
  CHECK(counts, node.queue.count == 0);
}

static void commands(check_counts *counts) {
  uint8_t bytes[40];
  begin(counts, false);
  clampline_node_connected(&node);
  clampline_node_poll(&node);
  CHECK(counts, clampline_node_message(&node, bytes, station_command(bytes, 1, CLAMPLINE_SET_RANGE, 5)) == 0);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_EVENT] == 1 && link.last[37] == CLAMPLINE_COMMAND_REFUSED);
  CHECK(counts, (int16_t)clampline_get(link.last + 42, 2) == CLAMPLINE_E_UNSUPPORTED);
  /* The same command again is the broker's repetition, not a second wish. */
  CHECK(counts, clampline_node_message(&node, bytes, station_command(bytes, 1, CLAMPLINE_SET_RANGE, 5)) == 0);
  clampline_node_poll(&node);
  CHECK(counts, link.published[CLAMPLINE_KIND_EVENT] == 1);
  CHECK(counts, clampline_node_message(&node, bytes, station_command(bytes, 2, CLAMPLINE_SET_RATE, 2000000)) == 0);
  clampline_node_poll(&node);
  CHECK(counts, link.last[37] == CLAMPLINE_COMMAND_DONE && get32(link.last + 44) == 1600000);
  CHECK(counts, node.config.packet.boot_id == 77 && node.config.packet.sequence == 0);
  CHECK(counts, node.time.boot_id == 77 && clampline_time_source(&node.time) == CLAMPLINE_TIME_FREE);
  CHECK(counts, clampline_node_message(&node, bytes, station_command(bytes, 3, CLAMPLINE_STOP, 0)) == 0);
  CHECK(counts, node.status.state == CLAMPLINE_STOPPED);
}

static void gaps(check_counts *counts) {
  begin(counts, false);
  (void)clampline_node_frames(&node, input, 10, 1000, 0, 0);
  (void)clampline_node_frames(&node, input, 10, 9000, CLAMPLINE_FLAG_OVERRUN, 16);
  CHECK(counts, node.queue.count == 1 && node.filled == 10);
  CHECK(counts, node.config.packet.first_sample == 26 && node.config.packet.node_clock_us == 9000);
  CHECK(counts, (node.config.packet.flags & CLAMPLINE_FLAG_OVERRUN) != 0 && node.status.overruns == 1);
  CHECK(counts, clampline_node_sleep(&node, 600) == 0);
  CHECK(counts, node.queue.count == 2 && node.status.state == CLAMPLINE_ASLEEP);
  clampline_node_wake(&node);
  CHECK(counts, (node.config.packet.flags & CLAMPLINE_FLAG_CAPTURE_START) != 0);
}

void test_node(check_counts *counts) {
  live(counts);
  out_of_reach(counts);
  keeps_until_journaled(counts);
  events_among_kept(counts);
  commands(counts);
  gaps(counts);
}
