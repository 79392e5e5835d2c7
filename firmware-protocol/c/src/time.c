/* Time exchange: SPEC.md, section 6. */
#include "wire.h"

enum { SECOND_US = 1000000, DRIFT_SPAN_S = 60, DRIFT_LIMIT_PPM = 100000 };

void clampline_time_init(clampline_time *time, uint64_t node_id, uint32_t boot_id) {
  clampline_zero(time, sizeof *time);
  time->node_id = node_id;
  time->boot_id = boot_id;
}

int32_t clampline_time_ask(clampline_time *time, uint64_t now_us, uint8_t *out, size_t out_size) {
  if (now_us > CLAMPLINE_MAX_EXACT) return CLAMPLINE_E_BAD_ARGUMENT;
  if (out_size < CLAMPLINE_TIME_REQUEST_BYTES) return CLAMPLINE_E_NO_SPACE;
  clampline_begin(out, CLAMPLINE_KIND_TIME_REQUEST, time->node_id, time->boot_id);
  clampline_put(out + 16, now_us, 8);
  for (uint32_t i = 0; i < 4; i++) clampline_put(out + 24 + 8 * i, time->last[i], 8);
  time->open_t0 = now_us;
  time->open = true;
  return clampline_seal(out, 56);
}

int32_t clampline_time_hear(clampline_time *time, uint64_t now_us, const uint8_t *bytes, size_t length) {
  const int32_t opened =
      clampline_open(bytes, length, CLAMPLINE_KIND_TIME_ANSWER, 44, CLAMPLINE_MAX_MESSAGE_BYTES);
  if (opened < 0) return opened;
  const uint64_t t0 = clampline_get(bytes + 16, 8);
  const uint64_t t1 = clampline_get(bytes + 24, 8);
  const uint64_t t2 = clampline_get(bytes + 32, 8);
  if (t0 > CLAMPLINE_MAX_EXACT || t1 == 0 || t2 < t1 || t2 > CLAMPLINE_MAX_EXACT) return CLAMPLINE_E_BAD_FIELD;
  if (clampline_get(bytes + 4, 8) != time->node_id) return CLAMPLINE_E_NOT_FOR_US;
  if (get32(bytes + 12) != time->boot_id || !time->open || t0 != time->open_t0) return CLAMPLINE_E_STALE;
  if (now_us < t0 || now_us > CLAMPLINE_MAX_EXACT) return CLAMPLINE_E_BAD_ARGUMENT;
  time->open = false;
  time->last[0] = t0;
  time->last[1] = t1;
  time->last[2] = t2;
  time->last[3] = now_us;

  const uint64_t away = now_us - t0;
  const uint64_t held = t2 - t1;
  const uint64_t delay = away > held ? away - held : 0;
  const clampline_time_slot slot = {
      .node_us = t0 + away / 2,
      /* Each half on its own: the sum of two Unix times is still far below 2^63. */
      .offset_us = ((int64_t)(t1 + t2) - (int64_t)(t0 + now_us)) / 2,
      .delay_us = delay > UINT32_MAX ? UINT32_MAX : (uint32_t)delay,
  };
  time->slots[time->next] = slot;
  time->next = (uint8_t)((time->next + 1) % CLAMPLINE_TIME_SLOTS);
  if (time->count < CLAMPLINE_TIME_SLOTS) time->count++;
  return 0;
}

uint8_t clampline_time_source(const clampline_time *time) {
  return time->count > 0 ? CLAMPLINE_TIME_SYNCED : CLAMPLINE_TIME_FREE;
}

/* Of `count` slots from the one numbered `first` (0 is the oldest), that of least delay. */
static const clampline_time_slot *quickest(const clampline_time *time, uint32_t first, uint32_t count) {
  const uint32_t oldest = time->count < CLAMPLINE_TIME_SLOTS ? 0 : time->next;
  const clampline_time_slot *best = NULL;
  for (uint32_t i = first; i < first + count; i++) {
    const clampline_time_slot *slot = &time->slots[(oldest + i) % CLAMPLINE_TIME_SLOTS];
    if (best == NULL || slot->delay_us <= best->delay_us) best = slot;
  }
  return best;
}

/* Signed microseconds as a whole number of seconds, by 32-bit division; clamps far beyond any use. */
static int32_t seconds_of(int64_t us) {
  const bool negative = us < 0;
  uint64_t size = negative ? (uint64_t)-us : (uint64_t)us;
  size >>= 6; /* 1000000 = 64 x 15625 */
  if (size > UINT32_MAX) size = UINT32_MAX;
  const int32_t seconds = (int32_t)((uint32_t)size / 15625u);
  return negative ? -seconds : seconds;
}

uint64_t clampline_time_unix_us(const clampline_time *time, uint64_t node_us, uint32_t *error_us) {
  if (time->count == 0) return 0;
  const uint32_t half = time->count / 2u;
  const clampline_time_slot *base = quickest(time, half, time->count - half);
  int32_t drift_ppm = 0;
  if (half > 0) {
    const clampline_time_slot *early = quickest(time, 0, half);
    const int32_t span_s = seconds_of((int64_t)(base->node_us - early->node_us));
    const int64_t change_us = base->offset_us - early->offset_us;
    if (span_s >= DRIFT_SPAN_S && change_us < INT32_MAX && change_us > -INT32_MAX) {
      drift_ppm = (int32_t)change_us / span_s; /* us in each second: parts in a million */
      /* More than a tenth is no clock drift: the station's clock was set. */
      if (drift_ppm > DRIFT_LIMIT_PPM || drift_ppm < -DRIFT_LIMIT_PPM) drift_ppm = 0;
    }
  }
  if (error_us != NULL) *error_us = base->delay_us / 2;
  const int32_t elapsed_s = seconds_of((int64_t)(node_us - base->node_us));
  return node_us + (uint64_t)(base->offset_us + (int64_t)elapsed_s * drift_ppm);
}
