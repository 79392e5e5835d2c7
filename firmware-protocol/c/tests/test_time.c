#include "../src/wire.h"
#include "check.h"

static const uint64_t EPOCH = 1750000000000000ull;

/* An answer to the open question of `time`, received and sent at the station at t1 and t2. */
static size_t answer(uint8_t *bytes, uint32_t boot_id, uint64_t t0, uint64_t t1, uint64_t t2) {
  clampline_begin(bytes, CLAMPLINE_KIND_TIME_ANSWER, 7, boot_id);
  clampline_put(bytes + 16, t0, 8);
  clampline_put(bytes + 24, t1, 8);
  clampline_put(bytes + 32, t2, 8);
  return (size_t)clampline_seal(bytes, 40);
}

static void one_exchange(check_counts *counts) {
  clampline_time time;
  uint8_t bytes[CLAMPLINE_TIME_REQUEST_BYTES];
  uint32_t error_us = 0;
  clampline_time_init(&time, 7, 9);
  CHECK(counts, clampline_time_source(&time) == CLAMPLINE_TIME_FREE);
  CHECK(counts, clampline_time_unix_us(&time, 1000, NULL) == 0);
  CHECK(counts, clampline_time_ask(&time, 1000, bytes, sizeof bytes) == CLAMPLINE_TIME_REQUEST_BYTES);
  CHECK(counts, clampline_get(bytes + 16, 8) == 1000 && clampline_get(bytes + 32, 8) == 0);

  /* 3000 us there, 500 us at the station, 3000 us back: offset exact. */
  size_t length = answer(bytes, 9, 1000, EPOCH + 4000, EPOCH + 4500);
  CHECK(counts, clampline_time_hear(&time, 7500, bytes, length) == 0);
  CHECK(counts, clampline_time_source(&time) == CLAMPLINE_TIME_SYNCED);
  CHECK(counts, clampline_time_unix_us(&time, 8000, &error_us) == EPOCH + 8000);
  CHECK(counts, error_us == 3000);
  CHECK(counts, clampline_time_hear(&time, 7500, bytes, length) == CLAMPLINE_E_STALE);

  /* The next request carries the exchange. */
  CHECK(counts, clampline_time_ask(&time, 20000, bytes, sizeof bytes) == CLAMPLINE_TIME_REQUEST_BYTES);
  CHECK(counts, clampline_get(bytes + 24, 8) == 1000 && clampline_get(bytes + 32, 8) == EPOCH + 4000);
  CHECK(counts, clampline_get(bytes + 40, 8) == EPOCH + 4500 && clampline_get(bytes + 48, 8) == 7500);

  length = answer(bytes, 9, 19999, EPOCH, EPOCH);
  CHECK(counts, clampline_time_hear(&time, 21000, bytes, length) == CLAMPLINE_E_STALE);
  length = answer(bytes, 8, 20000, EPOCH, EPOCH);
  CHECK(counts, clampline_time_hear(&time, 21000, bytes, length) == CLAMPLINE_E_STALE);
  length = answer(bytes, 9, 20000, EPOCH + 1, EPOCH);
  CHECK(counts, clampline_time_hear(&time, 21000, bytes, length) == CLAMPLINE_E_BAD_FIELD);
}

/*
 * A node clock 40 ppm slow, a network of 1 to 20 ms each way: between exchanges the estimate must stay
 * within the error it states plus 1 ppm (whole ppm are all it resolves) of 60 s.
 */
static void drift(check_counts *counts) {
  clampline_time time;
  uint8_t bytes[CLAMPLINE_TIME_REQUEST_BYTES];
  uint32_t seed = 1;
  clampline_time_init(&time, 7, 9);
  for (uint32_t i = 0; i < 40; i++) {
    const uint64_t t0 = 1000000ull + i * 30000000ull;
    const uint32_t there = 1000 + check_random(&seed) % 19000;
    const uint32_t back = 1000 + check_random(&seed) % 19000;
    const uint64_t t1 = EPOCH + t0 + t0 / 25000 + there;
    CHECK(counts, clampline_time_ask(&time, t0, bytes, sizeof bytes) > 0);
    const size_t length = answer(bytes, 9, t0, t1, t1 + 100);
    CHECK(counts, clampline_time_hear(&time, t0 + there + 100 + back, bytes, length) == 0);
    if (i < 8) continue;
    uint32_t error_us = 0;
    const uint64_t later = t0 + 25000000ull;
    const int64_t off = (int64_t)(clampline_time_unix_us(&time, later, &error_us) - (EPOCH + later + later / 25000));
    const int64_t limit = (int64_t)error_us + 30000;
    CHECK(counts, off < limit && off > -limit);
  }
}

void test_time(check_counts *counts) {
  one_exchange(counts);
  drift(counts);
}
