#include <string.h>

#include "../src/wire.h"
#include "check.h"

void test_wire(check_counts *counts) {
  /* RFC 3720, B.4. */
  uint8_t bytes[32];
  CHECK(counts, clampline_crc32c(0, (const uint8_t *)"123456789", 9) == 0xe3069283u);
  memset(bytes, 0, sizeof bytes);
  CHECK(counts, clampline_crc32c(0, bytes, 32) == 0x8a9136aau);
  memset(bytes, 0xff, sizeof bytes);
  CHECK(counts, clampline_crc32c(0, bytes, 32) == 0x62a8ab43u);
  for (uint32_t i = 0; i < 32; i++) bytes[i] = (uint8_t)i;
  CHECK(counts, clampline_crc32c(0, bytes, 32) == 0x46dd794eu);
  CHECK(counts, clampline_crc32c(clampline_crc32c(0, bytes, 10), bytes + 10, 22) == 0x46dd794eu);

  clampline_put(bytes, 0x0123456789abcdefull, 8);
  CHECK(counts, bytes[0] == 0xef && bytes[7] == 0x01);
  CHECK(counts, clampline_get(bytes, 8) == 0x0123456789abcdefull);
  CHECK(counts, get32(bytes) == 0x89abcdefu);
}
