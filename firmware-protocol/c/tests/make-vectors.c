/* Prints vectors/made-by-c.json: sample packets of every signal and length that matters, read back as fields. */
#include <stdio.h>
#include <string.h>

#include "fields.h"
#include "signals.h"

enum { FRAMES = 300, CHANNELS = 3 };

static const char *const signal_names[] = {"zero", "noise", "resonance", "ramp", "extremes", "impulses"};

static void print_vector(const char *name, uint32_t kind, const uint8_t *bytes, int32_t length, const char *end) {
  printf("  {\n    \"name\": \"%s\",\n    \"kind\": %u,\n    \"hex\": \"", name, (unsigned)kind);
  fields_print_hex(bytes, length > 0 ? (size_t)length : 0);
  printf("\"");
  if (kind == CLAMPLINE_KIND_SAMPLES) {
    printf(",\n    \"fields\": ");
    fields_print(kind, bytes, (size_t)length);
  }
  printf("\n  }%s\n", end);
}

static void print_samples(uint32_t signal, uint32_t channels, uint32_t count, uint8_t order) {
  static int16_t frames[FRAMES * CHANNELS];
  static uint8_t bytes[2 * FRAMES * CHANNELS + 200];
  char name[80];
  clampline_packet packet = {.node_id = 0x0011223344556677ull,
                             .boot_id = 0xb0071d00u + signal,
                             .sequence = signal,
                             .first_sample = 0x123456789ull + signal,
                             .node_clock_us = 0x1fffffffffffffull - order,
                             .nominal_rate_millihz = 26667000u,
                             .full_scale_um_per_s2 = 156906400,
                             .frame_count = (uint16_t)count,
                             .flags = (uint16_t)(signal & 7u),
                             .channel_count = (uint8_t)channels,
                             .time_source = (uint8_t)(count % 3),
                             .capture_mode = (uint8_t)(channels % 3),
                             .layout = {0x01, 0x12, 0x23}};
  signal_fill(signal, frames, count, channels);
  const int32_t length = clampline_encode_samples(&packet, frames, order, bytes, sizeof bytes);
  snprintf(name, sizeof name, "%s, %u x %u, order %u", signal_names[signal], (unsigned)channels, (unsigned)count,
           (unsigned)order);
  print_vector(name, CLAMPLINE_KIND_SAMPLES, bytes, length, ",");
}

int main(void) {
  uint8_t bytes[CLAMPLINE_STATUS_BYTES_MAX];
  printf("[\n");
  for (uint32_t signal = 0; signal < SIGNAL_KINDS; signal++) {
    print_samples(signal, 1, 1, 16);
    print_samples(signal, 2, 33, 16);
    print_samples(signal, CHANNELS, FRAMES, 16);
    print_samples(signal, 1, 100, 0);
    print_samples(signal, 2, 20, CLAMPLINE_PLAIN);
  }
  clampline_status status;
  clampline_status_init(&status, 0xfedcba9876543210ull, 0xffffffffu);
  print_vector("status: last will", CLAMPLINE_KIND_STATUS, bytes,
               clampline_encode_status(&status, bytes, sizeof bytes), ",");
  status.state = CLAMPLINE_SAMPLING;
  status.battery_percent = 100;
  status.battery_millivolt = 4123;
  status.temperature_centi_c = -4000;
  status.signal_dbm = -126;
  status.firmware_version = "1.0.0";
  status.sensor_part = "MEMS accelerometer, 3 axes, 16 g";
  print_vector("status: sampling", CLAMPLINE_KIND_STATUS, bytes,
               clampline_encode_status(&status, bytes, sizeof bytes), ",");
  const clampline_event tap = {.node_id = 1, .boot_id = 2, .sample = 12345, .event = CLAMPLINE_TAP, .value = 54321};
  print_vector("event: tap", CLAMPLINE_KIND_EVENT, bytes, clampline_encode_event(&tap, bytes, sizeof bytes), ",");
  clampline_time time;
  clampline_time_init(&time, 1, 2);
  print_vector("time request: the first of a boot", CLAMPLINE_KIND_TIME_REQUEST, bytes,
               clampline_time_ask(&time, 1000, bytes, sizeof bytes), "");
  printf("]\n");
  return 0;
}
