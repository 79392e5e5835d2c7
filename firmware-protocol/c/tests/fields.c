#include "fields.h"

#include <inttypes.h>
#include <stdio.h>

#include "../src/wire.h"

enum { MOST = 65536 };

void fields_print_hex(const uint8_t *bytes, size_t length) {
  for (size_t i = 0; i < length; i++) printf("%02x", bytes[i]);
}

static int32_t print_samples(const uint8_t *bytes, size_t length) {
  static int16_t frames[MOST];
  clampline_packet p;
  const int32_t values = clampline_decode_samples(bytes, length, &p, frames, MOST);
  if (values < 0) return values;
  printf("[\"%016" PRIx64 "\",%" PRIu32 ",%" PRIu32 ",%" PRIu64 ",%" PRIu64 ",%" PRIu32 ",%" PRIu32, p.node_id,
         p.boot_id, p.sequence, p.first_sample, p.node_clock_us, p.nominal_rate_millihz, p.full_scale_um_per_s2);
  printf(",%u,%u,%u,%u,%u,[", p.frame_count, p.channel_count, p.time_source, p.capture_mode, p.flags);
  for (uint32_t i = 0; i < p.channel_count; i++) printf("%s%u", i > 0 ? "," : "", p.layout[i]);
  printf("],[");
  for (int32_t i = 0; i < values; i++) printf("%s%d", i > 0 ? "," : "", frames[i]);
  printf("]]");
  return 0;
}

/* The node id and boot id written in the message itself: so that it is always addressed to us. */
static uint64_t own_id(const uint8_t *bytes, size_t length) { return length < 12 ? 0 : clampline_get(bytes + 4, 8); }
static uint32_t own_boot(const uint8_t *bytes, size_t length) { return length < 16 ? 0 : get32(bytes + 12); }

static int32_t print_answer(const uint8_t *bytes, size_t length) {
  clampline_time time;
  clampline_time_init(&time, own_id(bytes, length), own_boot(bytes, length));
  time.open = true;
  time.open_t0 = length < 24 ? 0 : clampline_get(bytes + 16, 8);
  const int32_t result = clampline_time_hear(&time, time.open_t0, bytes, length);
  if (result < 0) return result;
  printf("[\"%016" PRIx64 "\",%" PRIu32 ",%" PRIu64 ",%" PRIu64 ",%" PRIu64 "]", time.node_id, time.boot_id,
         time.last[0], time.last[1], time.last[2]);
  return 0;
}

static int32_t print_command(const uint8_t *bytes, size_t length) {
  clampline_command c;
  const uint64_t id = own_id(bytes, length);
  const uint32_t boot = own_boot(bytes, length);
  const int32_t result = clampline_decode_command(bytes, length, id, boot, &c);
  if (result < 0) return result;
  printf("[\"%016" PRIx64 "\",%" PRIu32 ",%u,%u,%" PRIu32 "]", id, boot, c.command_id, c.action, c.argument);
  return 0;
}

static int32_t print_journaled(const uint8_t *bytes, size_t length) {
  clampline_journaled j;
  const uint64_t id = own_id(bytes, length);
  const int32_t result = clampline_decode_journaled(bytes, length, id, &j);
  if (result < 0) return result;
  printf("[\"%016" PRIx64 "\",%" PRIu32 ",%" PRIu32 ",%" PRIu32 ",%" PRIu64 "]", id, j.boot_id, j.from_sequence,
         j.upto_sequence, j.upto_sample);
  return 0;
}

void fields_print(uint32_t kind, const uint8_t *bytes, size_t length) {
  int32_t result = CLAMPLINE_E_UNSUPPORTED;
  if (kind == CLAMPLINE_KIND_SAMPLES) result = print_samples(bytes, length);
  if (kind == CLAMPLINE_KIND_TIME_ANSWER) result = print_answer(bytes, length);
  if (kind == CLAMPLINE_KIND_COMMAND) result = print_command(bytes, length);
  if (kind == CLAMPLINE_KIND_JOURNALED) result = print_journaled(bytes, length);
  if (result < 0) printf("%d", (int)result);
}
