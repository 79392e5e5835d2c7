#include <string.h>

#include "../clampline_mqtt.h"
#include "../src/wire.h"
#include "check.h"

enum { SENT_BYTES = 2000 };

typedef struct {
  uint64_t now_us;
  size_t room;
  size_t length;
  uint8_t sent[SENT_BYTES];
} wire_state;

static wire_state wire;
static clampline_node node;
static clampline_mqtt mqtt;
static int16_t frames[32];
static uint8_t memory[600];

static uint64_t clock_us(void *context) {
  (void)context;
  return wire.now_us;
}

static int32_t command(void *context, const clampline_command *command, uint32_t *value) {
  (void)context, (void)command, (void)value;
  return 0;
}

/* The node's port and the client's context are the same object here. */
static int32_t publish(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  (void)context;
  return clampline_mqtt_publish(&mqtt, kind, bytes, length, ticket);
}

static size_t room(void *context) {
  (void)context;
  return wire.room - wire.length;
}

static int32_t write(void *context, const uint8_t *bytes, size_t length) {
  (void)context;
  memcpy(wire.sent + wire.length, bytes, length);
  wire.length += length;
  return 0;
}

static void begin(void) {
  const clampline_node_config config = {
      .port = {NULL, clock_us, publish, command},
      .packet = {.node_id = 0x0123456789abcdefull, .boot_id = 9, .nominal_rate_millihz = 3200000, .channel_count = 1},
      .frames_per_packet = 32, .max_order = 8, .in_flight = 4,
      .frames = frames, .memory = memory, .memory_size = sizeof memory};
  const clampline_stream stream = {NULL, room, write};
  memset(&wire, 0, sizeof wire);
  wire.room = SENT_BYTES;
  (void)clampline_node_init(&node, &config);
  (void)clampline_mqtt_init(&mqtt, &stream, &node, "depot", "secret");
}

static int32_t hear(const char *bytes, size_t length) {
  return clampline_mqtt_receive(&mqtt, (const uint8_t *)bytes, length);
}

static void handshake(check_counts *counts) {
  begin();
  CHECK(counts, clampline_mqtt_opened(&mqtt) == 0);
  CHECK(counts, wire.sent[0] == 0x10 && memcmp(wire.sent + 3, "\0\4MQTT\4\xee\0\x14\0\x10" "0123456789abcdef", 28) == 0);
  CHECK(counts, (size_t)((wire.sent[1] & 127) | wire.sent[2] << 7) == wire.length - 3);
  CHECK(counts, memcmp(wire.sent + wire.length - 8, "\0\6secret", 8) == 0);
  wire.length = 0;
  CHECK(counts, hear("\x20\x02\0\0", 4) == 0);
  CHECK(counts, wire.sent[0] == 0x82 && memcmp(wire.sent + 6, "clampline/depot/to/0123456789abcdef/+\1", 38) == 0);
  CHECK(counts, !mqtt.ready && !node.connected);
  CHECK(counts, hear("\x90\x03\0\1\1", 5) == 0 && mqtt.ready && node.connected);
  wire.length = 0;
}

static void publishes(check_counts *counts) {
  handshake(counts);
  (void)clampline_node_frames(&node, frames, 32, 1000, 0, 0);
  clampline_node_poll(&node);
  /* Status (retained), time request, sample packet. */
  CHECK(counts, wire.sent[0] == 0x33);
  CHECK(counts, memcmp(wire.sent + 4, "clampline/depot/node/0123456789abcdef/status", 44) == 0);
  CHECK(counts, node.queue.count == 1 && node.sent == 1);
  const uint16_t id = mqtt.waiting[2].id;
  const char ack[4] = {0x40, 2, (char)(id >> 8), (char)(id & 255)};
  /* Byte by byte, as a slow link brings it. */
  for (size_t i = 0; i < 4; i++) CHECK(counts, hear(ack + i, 1) == 0);
  CHECK(counts, node.queue.count == 0 && node.sent == 0);
  /* No room: nothing at all is written, and it stays in the queue. */
  (void)clampline_node_frames(&node, frames, 32, 2000, 0, 0);
  wire.length = 0;
  wire.room = 70;
  clampline_node_poll(&node);
  CHECK(counts, wire.length == 0 && node.queue.unsent == 1);
}

static void hears(check_counts *counts) {
  uint8_t message[120] = {0x32, 0, 0, 3, 'a', '/', 'b', 1, 2};
  handshake(counts);
  uint8_t *body = message + 9;
  clampline_begin(body, CLAMPLINE_KIND_COMMAND, 0x0123456789abcdefull, 0);
  clampline_put(body + 16, 5, 2);
  clampline_put(body + 18, CLAMPLINE_STOP, 2);
  clampline_put(body + 20, 0, 4);
  const int32_t length = clampline_seal(body, 24);
  message[1] = (uint8_t)(7 + length);
  CHECK(counts, clampline_mqtt_receive(&mqtt, message, 9 + (size_t)length) == 0);
  CHECK(counts, node.status.state == CLAMPLINE_STOPPED);
  CHECK(counts, wire.length == 4 && memcmp(wire.sent, "\x40\2\1\2", 4) == 0);
  /* Longer than can be held: acknowledged, not understood, and the stream goes on behind it. */
  wire.length = 0;
  CHECK(counts, hear("\x32\xd0\x0f\0\3a/b\7\x08", 10) == 0);
  for (uint32_t i = 0; i < 2000 - 7; i++) CHECK(counts, hear("x", 1) == 0);
  CHECK(counts, wire.length == 4 && memcmp(wire.sent, "\x40\2\7\x08", 4) == 0);
  CHECK(counts, hear("\xd0\0", 2) == 0);
}

static void faults(check_counts *counts) {
  begin();
  (void)clampline_mqtt_opened(&mqtt);
  CHECK(counts, hear("\x20\x02\0\5", 4) < 0 && mqtt.refused == 5);
  handshake(counts);
  CHECK(counts, hear("\x30\xff\xff\xff\xff\x01", 6) == CLAMPLINE_E_BAD_LENGTH);
  handshake(counts);
  CHECK(counts, hear("\x32\x02\xff\xff", 4) == CLAMPLINE_E_BAD_LENGTH);
  handshake(counts);
  CHECK(counts, hear("\x10\x00", 2) == CLAMPLINE_E_BAD_KIND);
  begin();
  (void)clampline_mqtt_opened(&mqtt);
  (void)hear("\x20\x02\0\0", 4);
  CHECK(counts, hear("\x90\x03\0\1\x80", 5) < 0 && !mqtt.ready);
  /* Silence: a ping after half the keep-alive time, the end after twice of it. */
  handshake(counts);
  wire.now_us += 11000000;
  CHECK(counts, clampline_mqtt_poll(&mqtt) == 0 && memcmp(wire.sent, "\xc0\0", 2) == 0);
  wire.now_us += 30000000;
  CHECK(counts, clampline_mqtt_poll(&mqtt) < 0);
  clampline_mqtt_closed(&mqtt);
  CHECK(counts, !mqtt.ready && !node.connected);
}

void test_mqtt(check_counts *counts) {
  handshake(counts);
  publishes(counts);
  hears(counts);
  faults(counts);
}
