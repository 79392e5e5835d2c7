#include <string.h>

#include "../src/wire.h"
#include "check.h"

static void status(check_counts *counts) {
  clampline_status status;
  uint8_t bytes[CLAMPLINE_STATUS_BYTES_MAX];
  clampline_status_init(&status, 7, 9);
  CHECK(counts, clampline_encode_status(&status, bytes, sizeof bytes) == 74);
  CHECK(counts, bytes[16] == CLAMPLINE_OFFLINE && bytes[19] == 255 && bytes[34] == 127);
  status.firmware_version = "1.2.3";
  status.sensor_part = "12345678901234567890123456789012";
  status.temperature_centi_c = -1234;
  CHECK(counts, clampline_encode_status(&status, bytes, sizeof bytes) == 74 + 5 + 32);
  CHECK(counts, (int16_t)clampline_get(bytes + 32, 2) == -1234);
  CHECK(counts, clampline_encode_status(&status, bytes, sizeof bytes - 1) == CLAMPLINE_E_NO_SPACE);
  status.sensor_part = "123456789012345678901234567890123";
  CHECK(counts, clampline_encode_status(&status, bytes, sizeof bytes) == CLAMPLINE_E_BAD_ARGUMENT);
  status.sensor_part = "tab\t";
  CHECK(counts, clampline_encode_status(&status, bytes, sizeof bytes) == CLAMPLINE_E_BAD_ARGUMENT);
  status.sensor_part = NULL;
  status.battery_percent = 101;
  CHECK(counts, clampline_encode_status(&status, bytes, sizeof bytes) == CLAMPLINE_E_BAD_ARGUMENT);
}

static void event(check_counts *counts) {
  clampline_event event = {.node_id = 7, .boot_id = 9, .sample = CLAMPLINE_NO_SAMPLE, .event = CLAMPLINE_TAP};
  uint8_t bytes[CLAMPLINE_EVENT_BYTES];
  CHECK(counts, clampline_encode_event(&event, bytes, sizeof bytes) == CLAMPLINE_EVENT_BYTES);
  CHECK(counts, clampline_encode_event(&event, bytes, sizeof bytes - 1) == CLAMPLINE_E_NO_SPACE);
  event.event = 5;
  CHECK(counts, clampline_encode_event(&event, bytes, sizeof bytes) == CLAMPLINE_E_BAD_ARGUMENT);
}

static size_t command_of(uint8_t *bytes, uint8_t action, uint32_t argument, uint32_t boot_id) {
  clampline_begin(bytes, CLAMPLINE_KIND_COMMAND, 7, boot_id);
  clampline_put(bytes + 16, 300, 2);
  bytes[18] = action;
  bytes[19] = 0;
  clampline_put(bytes + 20, argument, 4);
  return (size_t)clampline_seal(bytes, 24);
}

static void commands(check_counts *counts) {
  uint8_t bytes[40];
  clampline_command command;
  size_t length = command_of(bytes, CLAMPLINE_SET_RATE, 3200000, 0);
  CHECK(counts, clampline_decode_command(bytes, length, 7, 9, &command) == 0);
  CHECK(counts, command.command_id == 300 && command.action == CLAMPLINE_SET_RATE && command.argument == 3200000);
  CHECK(counts, clampline_decode_command(bytes, length, 8, 9, &command) == CLAMPLINE_E_NOT_FOR_US);
  CHECK(counts, clampline_decode_command(bytes, length - 1, 7, 9, &command) == CLAMPLINE_E_TOO_SHORT);
  bytes[20] ^= 1;
  CHECK(counts, clampline_decode_command(bytes, length, 7, 9, &command) == CLAMPLINE_E_BAD_CHECKSUM);
  length = command_of(bytes, CLAMPLINE_START, 0, 10);
  CHECK(counts, clampline_decode_command(bytes, length, 7, 9, &command) == CLAMPLINE_E_NOT_FOR_US);
  CHECK(counts, clampline_decode_command(bytes, length, 7, 10, &command) == 0);
  length = command_of(bytes, CLAMPLINE_IDENTIFY, 601, 0);
  CHECK(counts, clampline_decode_command(bytes, length, 7, 9, &command) == CLAMPLINE_E_BAD_FIELD);
  length = command_of(bytes, 7, 0, 0);
  CHECK(counts, clampline_decode_command(bytes, length, 7, 9, &command) == CLAMPLINE_E_BAD_FIELD);
  /* A message that has grown behind its known fields is still read. */
  (void)command_of(bytes, CLAMPLINE_STOP, 0, 0);
  clampline_put(bytes + 24, 0x1122334455667788ull, 8);
  length = (size_t)clampline_seal(bytes, 32);
  CHECK(counts, clampline_decode_command(bytes, length, 7, 9, &command) == 0 && command.action == CLAMPLINE_STOP);
}

static void journaled(check_counts *counts) {
  uint8_t bytes[40];
  clampline_journaled journaled;
  clampline_begin(bytes, CLAMPLINE_KIND_JOURNALED, 7, 5);
  clampline_put(bytes + 16, 10, 4);
  clampline_put(bytes + 20, 20, 4);
  clampline_put(bytes + 24, 5120, 8);
  size_t length = (size_t)clampline_seal(bytes, 32);
  CHECK(counts, clampline_decode_journaled(bytes, length, 7, &journaled) == 0);
  CHECK(counts, journaled.boot_id == 5 && journaled.from_sequence == 10 && journaled.upto_sequence == 20);
  CHECK(counts, journaled.upto_sample == 5120);
  CHECK(counts, clampline_decode_journaled(bytes, length, 8, &journaled) == CLAMPLINE_E_NOT_FOR_US);
  clampline_put(bytes + 16, 21, 4);
  length = (size_t)clampline_seal(bytes, 32);
  CHECK(counts, clampline_decode_journaled(bytes, length, 7, &journaled) == CLAMPLINE_E_BAD_FIELD);
}

void test_messages(check_counts *counts) {
  status(counts);
  event(counts);
  commands(counts);
  journaled(counts);
}
