/*
 * Lets another language drive this core, a line at a time: "decode KIND HEX" prints the fields or an error
 * code; "encode KIND FIELDS..." (numbers and, for texts, hex or "-") prints the message in hex or an error code.
 */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../src/wire.h"
#include "fields.h"

enum { LINE_BYTES = 600000, MESSAGE_BYTES = 300000 };

static size_t from_hex(const char *text, uint8_t *bytes) {
  size_t length = 0;
  unsigned value;
  while (length < MESSAGE_BYTES && sscanf(text + 2 * length, "%2x", &value) == 1) bytes[length++] = (uint8_t)value;
  return length;
}

static uint64_t number(void) {
  const char *word = strtok(NULL, " \n");
  if (word == NULL) return 0;
  return word[0] == '-' ? (uint64_t)strtoll(word, NULL, 10) : strtoull(word, NULL, 10);
}

static uint64_t identity(void) {
  const char *word = strtok(NULL, " \n");
  return word == NULL ? 0 : strtoull(word, NULL, 16);
}

static void text(char *out) {
  const char *word = strtok(NULL, " \n");
  uint8_t bytes[64] = {0};
  if (word != NULL && word[0] != '-') (void)from_hex(word, bytes);
  memcpy(out, bytes, sizeof bytes - 1);
}

static int32_t encode_status(uint8_t *out, size_t size) {
  char firmware[64] = {0};
  char part[64] = {0};
  clampline_status s;
  const uint64_t id = identity();
  clampline_status_init(&s, id, (uint32_t)number());
  s.state = (uint8_t)number();
  s.reset_cause = (uint8_t)number();
  s.time_source = (uint8_t)number();
  s.battery_percent = (uint8_t)number();
  s.node_clock_us = number();
  s.battery_millivolt = (uint16_t)number();
  s.buffer_fill_permille = (uint16_t)number();
  s.temperature_centi_c = (int16_t)number();
  s.signal_dbm = (int8_t)number();
  s.resolution_bits = (uint8_t)number();
  s.next_status_s = (uint32_t)number();
  s.next_sequence = (uint32_t)number();
  s.dropped_packets = (uint32_t)number();
  s.overruns = (uint32_t)number();
  s.nominal_rate_millihz = (uint32_t)number();
  s.full_scale_um_per_s2 = (uint32_t)number();
  s.noise_density_um_per_s2_per_rt_hz = (uint32_t)number();
  s.sensor_bandwidth_hz = (uint32_t)number();
  text(firmware);
  text(part);
  s.firmware_version = firmware;
  s.sensor_part = part;
  return clampline_encode_status(&s, out, size);
}

static int32_t encode_event(uint8_t *out, size_t size) {
  clampline_event e;
  e.node_id = identity();
  e.boot_id = (uint32_t)number();
  e.event_count = (uint32_t)number();
  e.node_clock_us = number();
  e.sample = number();
  e.time_source = (uint8_t)number();
  e.event = (uint8_t)number();
  e.sensor = (uint8_t)number();
  e.command_id = (uint16_t)number();
  e.result = (int16_t)number();
  e.value = (uint32_t)number();
  return clampline_encode_event(&e, out, size);
}

static int32_t encode_request(uint8_t *out, size_t size) {
  clampline_time time;
  const uint64_t id = identity();
  clampline_time_init(&time, id, (uint32_t)number());
  const uint64_t now = number();
  for (uint32_t i = 0; i < 4; i++) time.last[i] = number();
  return clampline_time_ask(&time, now, out, size);
}

int main(void) {
  static char line[LINE_BYTES];
  static uint8_t bytes[MESSAGE_BYTES];
  while (fgets(line, sizeof line, stdin) != NULL) {
    const char *verb = strtok(line, " \n");
    if (verb == NULL) continue;
    const uint32_t kind = (uint32_t)number();
    if (strcmp(verb, "decode") == 0) {
      const char *hex = strtok(NULL, " \n");
      /* An exact copy on the heap, so that a read past its end is caught. */
      const size_t length = hex == NULL ? 0 : from_hex(hex, bytes);
      uint8_t *copy = malloc(length > 0 ? length : 1);
      if (copy == NULL) return 1;
      memcpy(copy, bytes, length);
      fields_print(kind, copy, length);
      free(copy);
    } else {
      int32_t length = CLAMPLINE_E_BAD_KIND;
      if (kind == CLAMPLINE_KIND_STATUS) length = encode_status(bytes, MESSAGE_BYTES);
      if (kind == CLAMPLINE_KIND_EVENT) length = encode_event(bytes, MESSAGE_BYTES);
      if (kind == CLAMPLINE_KIND_TIME_REQUEST) length = encode_request(bytes, MESSAGE_BYTES);
      if (length < 0) printf("%d", (int)length);
      else fields_print_hex(bytes, (size_t)length);
    }
    printf("\n");
    fflush(stdout);
  }
  return 0;
}
