/* The firmware on the host: a simulated accelerometer, a clock under the test's hand, a broker that says yes. */
#include <string.h>

#include "../c/src/wire.h"
#include "../c/tests/check.h"
#include "firmware.h"
#include "simulated-accelerometer.h"

enum { SENT_BYTES = 1 << 20 };

typedef struct {
  uint64_t now_us;
  simulated_accelerometer part;
  bool lamp;
} bench;

static bench table;
static firmware fw;
static uint8_t sent[SENT_BYTES];
static size_t sent_length;

static uint64_t clock_us(void *context) { return ((bench *)context)->now_us; }

static int32_t transfer(void *context, const uint8_t *out, uint8_t *in, size_t length) {
  bench *at = context;
  simulated_advance(&at->part, at->now_us);
  return simulated_transfer(&at->part, out, in, length);
}

static uint32_t random_number(void *context) {
  static uint32_t last = 77;
  (void)context;
  return ++last;
}

static void lamp(void *context, bool on) { ((bench *)context)->lamp = on; }

static size_t room(void *context) {
  (void)context;
  return SENT_BYTES - sent_length;
}

static int32_t write_stream(void *context, const uint8_t *bytes, size_t length) {
  (void)context;
  memcpy(sent + sent_length, bytes, length);
  sent_length += length;
  return 0;
}

static void begin(check_counts *counts) {
  const board board = {&table, clock_us, transfer, random_number, lamp};
  const clampline_stream stream = {NULL, room, write_stream};
  memset(&table, 0, sizeof table);
  table.now_us = 1000000;
  sent_length = 0;
  simulated_init(&table.part, 30000);
  CHECK(counts, firmware_init(&fw, &board, &stream, 7, "depot", "token") == 0);
  CHECK(counts, fw.sensor.rate_millihz == 3200000 && fw.sensor.full_scale_um_per_s2 == 156906400);
}

static void run_ms(uint32_t ms) {
  for (; ms > 0; ms -= 4) {
    table.now_us += 4000;
    firmware_sample(&fw);
    firmware_step(&fw);
  }
}

static void connect(check_counts *counts) {
  CHECK(counts, clampline_mqtt_opened(&fw.mqtt) == 0);
  CHECK(counts, clampline_mqtt_receive(&fw.mqtt, (const uint8_t *)"\x20\x02\0\0\x90\x03\0\1\1", 9) == 0);
}

/* The oldest packet in the queue, decoded. */
static int32_t oldest(clampline_packet *packet, int16_t *frames) {
  const uint8_t *message;
  uint32_t ticket;
  const int32_t length = clampline_queue_next(&fw.node.queue, &message, &ticket);
  if (length < 0) return length;
  return clampline_decode_samples(message, (size_t)length, packet, frames, FIRMWARE_FRAMES * 3);
}

static void measures(check_counts *counts) {
  static int16_t frames[FIRMWARE_FRAMES * 3];
  clampline_packet packet;
  begin(counts);
  run_ms(1000);
  CHECK(counts, fw.node.queue.count == 6); /* 3296 samples, 512 in a packet */
  CHECK(counts, oldest(&packet, frames) == FIRMWARE_FRAMES * 3);
  CHECK(counts, packet.first_sample == 0 && packet.flags == CLAMPLINE_FLAG_CAPTURE_START);
  bool same = true;
  for (uint32_t i = 0; i < FIRMWARE_FRAMES * 3; i++) same = same && frames[i] == simulated_value(i / 3, i % 3) * 8;
  CHECK(counts, same);
  /* The first frame was measured when sampling began, give or take a period. */
  CHECK(counts, packet.node_clock_us >= 1000000 - 400 && packet.node_clock_us <= 1000000 + 4000);
}

static void tells_of_gaps(check_counts *counts) {
  static int16_t frames[FIRMWARE_FRAMES * 3];
  clampline_packet packet;
  begin(counts);
  run_ms(100);
  table.now_us += 50000; /* the processor was busy: 165 frames, of which the part keeps 32 */
  run_ms(1000);
  CHECK(counts, oldest(&packet, frames) > 0 && packet.frame_count < FIRMWARE_FRAMES);
  (void)clampline_queue_sent(&fw.node.queue);
  const uint64_t end = packet.first_sample + packet.frame_count;
  CHECK(counts, oldest(&packet, frames) > 0 && (packet.flags & CLAMPLINE_FLAG_OVERRUN) != 0);
  CHECK(counts, fw.node.status.overruns == 1);
  /* The estimate of what is missing: by the nominal rate, 3 % off here, and a few frames of reading time. */
  uint64_t true_first = 0;
  while (simulated_value(true_first, 0) * 8 != frames[0] || simulated_value(true_first + 1, 0) * 8 != frames[3] ||
         simulated_value(true_first + 2, 1) * 8 != frames[7]) {
    true_first++;
  }
  const int64_t off = (int64_t)(packet.first_sample - true_first);
  CHECK(counts, packet.first_sample > end && off > -12 && off < 12);
}

static void obeys(check_counts *counts) {
  uint8_t bytes[40];
  begin(counts);
  connect(counts);
  run_ms(40);
  clampline_begin(bytes, CLAMPLINE_KIND_COMMAND, 7, 0);
  clampline_put(bytes + 16, 1, 2);
  clampline_put(bytes + 18, CLAMPLINE_SET_RATE, 2);
  clampline_put(bytes + 20, 900000, 4);
  const uint32_t boot_id = fw.node.config.packet.boot_id;
  CHECK(counts, clampline_node_message(&fw.node, bytes, (size_t)clampline_seal(bytes, 24)) == 0);
  CHECK(counts, fw.sensor.rate_millihz == 800000 && fw.node.config.packet.boot_id != boot_id);
  clampline_put(bytes + 16, 2, 2);
  clampline_put(bytes + 18, CLAMPLINE_IDENTIFY, 2);
  clampline_put(bytes + 20, 2, 4);
  CHECK(counts, clampline_node_message(&fw.node, bytes, (size_t)clampline_seal(bytes, 24)) == 0);
  bool lit = false;
  for (uint32_t i = 0; i < 100; i++) {
    run_ms(8);
    lit = lit || table.lamp;
  }
  CHECK(counts, lit);
  run_ms(2000);
  CHECK(counts, !table.lamp);
  clampline_put(bytes + 16, 3, 2);
  clampline_put(bytes + 18, CLAMPLINE_SET_RANGE, 2);
  clampline_put(bytes + 20, 30000000, 4);
  CHECK(counts, clampline_node_message(&fw.node, bytes, (size_t)clampline_seal(bytes, 24)) == 0);
  CHECK(counts, fw.sensor.full_scale_um_per_s2 == 39226600);
}

static void feels(check_counts *counts) {
  begin(counts);
  run_ms(100);
  const uint32_t before = fw.node.next_event;
  simulated_tap(&table.part);
  firmware_button(&fw);
  run_ms(20);
  CHECK(counts, fw.node.next_event == before + 2);
}

static void absent_part(check_counts *counts) {
  const board board = {&table, clock_us, transfer, random_number, lamp};
  const clampline_stream stream = {NULL, room, write_stream};
  simulated_init(&table.part, 0);
  table.part.registers[0] = 0;
  CHECK(counts, firmware_init(&fw, &board, &stream, 7, "depot", "token") == CLAMPLINE_E_HARDWARE);
}

int main(void) {
  check_counts counts = {0, 0};
  measures(&counts);
  tells_of_gaps(&counts);
  obeys(&counts);
  feels(&counts);
  absent_part(&counts);
  printf("\n%u checks passed, %u failed\n", counts.passed, counts.failed);
  return counts.failed == 0 ? 0 : 1;
}
