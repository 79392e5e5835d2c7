/*
 * Store and forward: a ring of entries, each 8 bytes of length and state and then the message, padded to
 * a multiple of 4. An entry never wraps, so that a message can be encoded and sent in place; what
 * is left at the end of the memory is skipped. `wrap` is where the entries end when the newest lie
 * before the oldest again.
 */
#include "wire.h"

enum { ENTRY_BYTES = 8, STATE_AT = 5, ARRIVED = 1, MARK = 0x71 };

static uint32_t entry_size(size_t length) { return ENTRY_BYTES + (((uint32_t)length + 3u) & ~3u); }

static uint32_t length_at(const clampline_queue *queue, uint32_t at) { return get32(queue->memory + at); }

static uint32_t after(const clampline_queue *queue, uint32_t at) {
  at += entry_size(length_at(queue, at));
  return queue->wrap != 0 && at == queue->wrap ? 0 : at;
}

int32_t clampline_queue_init(clampline_queue *queue, uint8_t *memory, size_t size) {
  if (memory == NULL || size < 64 || size > 0x80000000u) return CLAMPLINE_E_BAD_ARGUMENT;
  const clampline_queue fresh = {.memory = memory, .size = (uint32_t)size & ~3u};
  *queue = fresh;
  return 0;
}

static void forget_oldest(clampline_queue *queue) {
  const uint32_t size = entry_size(length_at(queue, queue->tail));
  const bool was_next = queue->unsent == queue->count;
  const uint32_t next = after(queue, queue->tail);
  if (next == 0) queue->wrap = 0;
  queue->tail = next;
  queue->used -= size;
  queue->count--;
  queue->ticket++;
  if (was_next) {
    queue->cursor = next;
    queue->unsent--;
  }
  if (queue->count == 0) {
    queue->head = queue->tail = queue->cursor = queue->wrap = 0;
  }
}

/* Where an entry of `need` bytes fits without wrapping; false when something must give way first. */
static bool find_room(clampline_queue *queue, uint32_t need) {
  if (queue->wrap == 0 && (queue->count == 0 || queue->head > queue->tail)) {
    if (queue->size - queue->head >= need) return true;
    if (queue->tail < need) return false; /* `tail` bytes are free at the beginning */
    queue->wrap = queue->head;
    /* A cursor behind the last entry moves along to where the next one will be. */
    if (queue->unsent == 0) queue->cursor = 0;
    queue->head = 0;
    return true;
  }
  return queue->tail - queue->head >= need;
}

int32_t clampline_queue_reserve(clampline_queue *queue, size_t length, uint8_t **room) {
  if (length == 0 || length > queue->size || entry_size(length) > queue->size) return CLAMPLINE_E_NO_SPACE;
  while (!find_room(queue, entry_size(length))) {
    forget_oldest(queue);
    queue->dropped++;
  }
  *room = queue->memory + queue->head + ENTRY_BYTES;
  return 0;
}

int32_t clampline_queue_commit(clampline_queue *queue, size_t length) {
  const uint32_t limit = queue->wrap != 0 ? queue->tail : queue->size;
  if (length == 0 || length > limit - queue->head || entry_size(length) > limit - queue->head) {
    return CLAMPLINE_E_BAD_ARGUMENT;
  }
  uint8_t *entry = queue->memory + queue->head;
  clampline_put(entry, length, 4);
  clampline_put(entry + 4, MARK, 4);
  if (queue->unsent == 0) queue->cursor = queue->head;
  queue->head += entry_size(length);
  queue->used += entry_size(length);
  queue->count++;
  queue->unsent++;
  return 0;
}

int32_t clampline_queue_next(const clampline_queue *queue, const uint8_t **message, uint32_t *ticket) {
  if (queue->unsent == 0) return CLAMPLINE_E_EMPTY;
  *message = queue->memory + queue->cursor + ENTRY_BYTES;
  *ticket = queue->ticket + (queue->count - queue->unsent);
  return (int32_t)length_at(queue, queue->cursor);
}

int32_t clampline_queue_sent(clampline_queue *queue) {
  if (queue->unsent == 0) return CLAMPLINE_E_EMPTY;
  queue->cursor = after(queue, queue->cursor);
  queue->unsent--;
  return 0;
}

static void forget_arrived(clampline_queue *queue) {
  while (queue->count > 0 && queue->memory[queue->tail + STATE_AT] == ARRIVED) forget_oldest(queue);
}

static int32_t arrived(clampline_queue *queue, uint32_t ticket, bool keep_samples) {
  uint32_t ahead = ticket - queue->ticket;
  if (ahead > UINT32_MAX / 2) return 0; /* an older one, given up while its acknowledgement was on the way */
  if (ahead >= queue->count - queue->unsent) return CLAMPLINE_E_STALE;
  uint32_t at = queue->tail;
  for (; ahead > 0; ahead--) at = after(queue, at);
  const uint8_t *message = queue->memory + at + ENTRY_BYTES;
  if (keep_samples && length_at(queue, at) > 3 && message[3] == CLAMPLINE_KIND_SAMPLES) return 0;
  queue->memory[at + STATE_AT] = ARRIVED;
  forget_arrived(queue);
  return 0;
}

int32_t clampline_queue_release(clampline_queue *queue, uint32_t ticket) {
  return arrived(queue, ticket, false);
}

int32_t clampline_queue_release_other(clampline_queue *queue, uint32_t ticket) {
  return arrived(queue, ticket, true);
}

int32_t clampline_queue_journaled(clampline_queue *queue, const clampline_journaled *journaled) {
  uint32_t at = queue->tail;
  int32_t lost = 0;
  for (uint32_t i = 0; i < queue->count; i++, at = after(queue, at)) {
    uint8_t *entry = queue->memory + at;
    const uint8_t *message = entry + ENTRY_BYTES;
    if (length_at(queue, at) < HEADER_BYTES + 4 || message[3] != CLAMPLINE_KIND_SAMPLES) continue;
    if (get32(message + 12) != journaled->boot_id) continue;
    const uint32_t sequence = get32(message + HEADER_BYTES);
    if (sequence >= journaled->upto_sequence) continue;
    if (sequence >= journaled->from_sequence) entry[STATE_AT] = ARRIVED;
    else if (i < queue->count - queue->unsent && entry[STATE_AT] != ARRIVED) lost++;
  }
  forget_arrived(queue);
  return lost;
}

void clampline_queue_rewind(clampline_queue *queue) {
  queue->cursor = queue->tail;
  queue->unsent = queue->count;
}

uint16_t clampline_queue_fill_permille(const clampline_queue *queue) {
  /* Both halved until the product fits: a thousandth needs no more. */
  uint32_t used = queue->used;
  uint32_t size = queue->size;
  while (size > 4000000u) {
    used >>= 1;
    size >>= 1;
  }
  return (uint16_t)(used * 1000u / size);
}

int32_t clampline_queue_check(const clampline_queue *queue) {
  if (queue->memory == NULL || queue->size < 64 || queue->head > queue->size || queue->wrap > queue->size ||
      queue->tail > queue->size || queue->unsent > queue->count) {
    return CLAMPLINE_E_CORRUPT;
  }
  uint32_t at = queue->tail;
  uint32_t used = 0;
  for (uint32_t i = 0; i < queue->count; i++) {
    if (i == queue->count - queue->unsent && at != queue->cursor) return CLAMPLINE_E_CORRUPT;
    const uint32_t end = queue->wrap != 0 && at >= queue->tail ? queue->wrap : queue->size;
    if ((at & 3u) != 0 || at > end || end - at < ENTRY_BYTES) return CLAMPLINE_E_CORRUPT;
    if (queue->memory[at + 4] != MARK) return CLAMPLINE_E_CORRUPT;
    const uint32_t length = length_at(queue, at);
    if (length == 0 || length > end - at - ENTRY_BYTES) return CLAMPLINE_E_CORRUPT;
    const uint32_t size = entry_size(length);
    if (size > end - at || used > queue->size - size) return CLAMPLINE_E_CORRUPT;
    used += size;
    at = after(queue, at);
  }
  return at == queue->head && used == queue->used ? 0 : CLAMPLINE_E_CORRUPT;
}
