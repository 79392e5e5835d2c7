/*
 * libFuzzer on everything that reads bytes from outside. Half of the inputs get a right header and
 * checksum, or nearly all would end at the first check.
 */
#include <stdlib.h>
#include <string.h>

#include "../clampline_mqtt.h"
#include "../src/wire.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static uint64_t clock_us(void *context) { return *(uint64_t *)context; }

static int32_t publish(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  (void)context, (void)kind, (void)bytes, (void)length, (void)ticket;
  return 0;
}

static int32_t command(void *context, const clampline_command *command, uint32_t *value) {
  (void)context, (void)command;
  *value = 1;
  return 0;
}

static size_t room(void *context) {
  (void)context;
  return 1000;
}

static int32_t write_stream(void *context, const uint8_t *bytes, size_t length) {
  (void)context, (void)bytes, (void)length;
  return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  static int16_t frames[65536];
  static uint8_t memory[4096];
  static int16_t buffer[3 * 64];
  static const uint8_t kinds[] = {1, 16, 17, 18};
  if (size < 1) return 0;
  uint8_t *copy = malloc(size);
  if (copy == NULL) return 0;
  memcpy(copy, data, size);
  if ((data[0] & 1) != 0 && size > 20) {
    clampline_begin(copy, kinds[data[0] >> 1 & 3], 7, (data[0] & 8) != 0 ? 9 : get32(data + 12));
    clampline_put(copy + size - 4, clampline_crc32c(0, copy, size - 4), 4);
  }
  clampline_packet packet;
  (void)clampline_decode_samples(copy, size, &packet, frames, sizeof frames / sizeof *frames);

  uint64_t now_us = 1000000;
  const clampline_node_config config = {
      .port = {&now_us, clock_us, publish, command},
      .packet = {.node_id = 7, .boot_id = 9, .nominal_rate_millihz = 3200000, .channel_count = 3, .layout = {1, 2, 3}},
      .frames_per_packet = 64, .max_order = 8, .in_flight = 4, .until_journaled = true,
      .frames = buffer, .memory = memory, .memory_size = sizeof memory};
  clampline_node node;
  if (clampline_node_init(&node, &config) == 0) {
    clampline_node_connected(&node);
    (void)clampline_node_frames(&node, frames, 64, 1000, 0, 0);
    clampline_node_poll(&node);
    (void)clampline_node_message(&node, copy, size);
    clampline_node_poll(&node);
    if (clampline_queue_check(&node.queue) != 0) abort();
    /* The same bytes as a broker's side of the stream, in two pieces, before and after it said yes. */
    static clampline_mqtt mqtt;
    const clampline_stream stream = {NULL, room, write_stream};
    if (clampline_mqtt_init(&mqtt, &stream, &node, "depot", "token") == 0 && clampline_mqtt_opened(&mqtt) == 0) {
      static const uint8_t yes[9] = {0x20, 2, 0, 0, 0x90, 3, 0, 1, 1};
      if ((data[0] & 16) != 0) (void)clampline_mqtt_receive(&mqtt, yes, sizeof yes);
      if (clampline_mqtt_receive(&mqtt, copy, size / 2) >= 0) {
        (void)clampline_mqtt_receive(&mqtt, copy + size / 2, size - size / 2);
      }
      (void)clampline_mqtt_poll(&mqtt);
      clampline_mqtt_closed(&mqtt);
    }
  }
  free(copy);
  return 0;
}
