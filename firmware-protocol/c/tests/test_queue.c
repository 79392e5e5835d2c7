#include <string.h>

#include "../src/wire.h"
#include "check.h"

enum { SIZE = 1000 };

static uint8_t memory[SIZE];

/* A message as the queue sees it: the header of a sample packet, and `length` bytes that tell its number. */
static int32_t push(clampline_queue *queue, uint32_t sequence, uint32_t length) {
  uint8_t *room;
  const int32_t result = clampline_queue_reserve(queue, length, &room);
  if (result < 0) return result;
  memset(room, (int)(sequence & 255u), length);
  clampline_begin(room, CLAMPLINE_KIND_SAMPLES, 7, 9);
  clampline_put(room + 16, sequence, 4);
  return clampline_queue_commit(queue, length);
}

static int32_t pop(clampline_queue *queue) {
  const uint8_t *message;
  uint32_t ticket;
  const int32_t length = clampline_queue_next(queue, &message, &ticket);
  if (length < 0) return length;
  const int32_t sequence = (int32_t)get32(message + 16);
  for (int32_t i = 20; i < length; i++) {
    if (message[i] != (sequence & 255)) return -1000;
  }
  if (clampline_queue_sent(queue) < 0 || clampline_queue_release(queue, ticket) < 0) return -1001;
  return sequence;
}

static void order_and_bounds(check_counts *counts) {
  clampline_queue queue;
  uint8_t *room;
  CHECK(counts, clampline_queue_init(&queue, memory, 63) == CLAMPLINE_E_BAD_ARGUMENT);
  CHECK(counts, clampline_queue_init(&queue, memory, SIZE) == 0);
  CHECK(counts, pop(&queue) == CLAMPLINE_E_EMPTY);
  CHECK(counts, clampline_queue_reserve(&queue, SIZE, &room) == CLAMPLINE_E_NO_SPACE);
  CHECK(counts, clampline_queue_reserve(&queue, SIZE - 8, &room) == 0);
  CHECK(counts, clampline_queue_commit(&queue, SIZE) == CLAMPLINE_E_BAD_ARGUMENT);
  for (uint32_t i = 0; i < 5; i++) CHECK(counts, push(&queue, i, 100) == 0);
  CHECK(counts, clampline_queue_fill_permille(&queue) == 540);
  for (int32_t i = 0; i < 5; i++) CHECK(counts, pop(&queue) == i);
  CHECK(counts, pop(&queue) == CLAMPLINE_E_EMPTY && queue.used == 0);
}

static void full_gives_up_oldest(check_counts *counts) {
  clampline_queue queue;
  (void)clampline_queue_init(&queue, memory, SIZE);
  for (uint32_t i = 0; i < 30; i++) CHECK(counts, push(&queue, i, 100) == 0);
  CHECK(counts, queue.count + queue.dropped == 30 && queue.count >= 8);
  int32_t expected = (int32_t)queue.dropped;
  for (; expected < 30; expected++) CHECK(counts, pop(&queue) == expected);
}

static void sent_but_not_arrived(check_counts *counts) {
  clampline_queue queue;
  const uint8_t *message;
  uint32_t ticket[4];
  (void)clampline_queue_init(&queue, memory, SIZE);
  for (uint32_t i = 0; i < 4; i++) (void)push(&queue, i, 50);
  CHECK(counts, clampline_queue_release(&queue, queue.ticket) == CLAMPLINE_E_STALE);
  for (uint32_t i = 0; i < 3; i++) {
    CHECK(counts, clampline_queue_next(&queue, &message, &ticket[i]) == 50);
    CHECK(counts, clampline_queue_sent(&queue) == 0);
  }
  /* Out of order: nothing is forgotten before the oldest has arrived. */
  CHECK(counts, clampline_queue_release(&queue, ticket[1]) == 0 && queue.count == 4);
  CHECK(counts, clampline_queue_release(&queue, ticket[0]) == 0 && queue.count == 2);
  CHECK(counts, clampline_queue_release(&queue, ticket[0]) == 0 && queue.count == 2);
  clampline_queue_rewind(&queue);
  CHECK(counts, pop(&queue) == 2 && pop(&queue) == 3 && pop(&queue) == CLAMPLINE_E_EMPTY);
}

static void journaled(check_counts *counts) {
  clampline_queue queue;
  const uint8_t *message;
  uint32_t ticket;
  (void)clampline_queue_init(&queue, memory, SIZE);
  for (uint32_t i = 0; i < 8; i++) (void)push(&queue, i, 50);
  for (uint32_t i = 0; i < 6; i++) {
    (void)clampline_queue_next(&queue, &message, &ticket);
    (void)clampline_queue_sent(&queue);
  }
  clampline_journaled told = {.boot_id = 8, .from_sequence = 0, .upto_sequence = 8};
  CHECK(counts, clampline_queue_journaled(&queue, &told) == 0 && queue.count == 8);
  told.boot_id = 9;
  told.upto_sequence = 2;
  CHECK(counts, clampline_queue_journaled(&queue, &told) == 0 && queue.count == 6);
  told.from_sequence = 4;
  told.upto_sequence = 6;
  CHECK(counts, clampline_queue_journaled(&queue, &told) == 2 && queue.count == 6);
  clampline_queue_rewind(&queue);
  CHECK(counts, pop(&queue) == 2 && pop(&queue) == 3);
  CHECK(counts, queue.count == 2);
}

/* Thousands of random steps against a plain list; the structure is checked after each. */
static void against_a_list(check_counts *counts) {
  clampline_queue queue;
  uint32_t seed = 99;
  uint32_t next = 0;
  bool sound = true;
  (void)clampline_queue_init(&queue, memory, SIZE);
  for (uint32_t step = 0; step < 5000; step++) {
    const uint32_t what = check_random(&seed) % 10;
    if (what < 5) {
      sound = sound && push(&queue, next++, 20 + check_random(&seed) % 300) == 0;
    } else if (what < 9) {
      clampline_queue_rewind(&queue);
      const int32_t expected = queue.count > 0 ? (int32_t)(next - queue.count) : CLAMPLINE_E_EMPTY;
      sound = sound && pop(&queue) == expected;
    } else {
      clampline_queue_rewind(&queue);
      const uint8_t *message;
      uint32_t ticket;
      for (uint32_t i = check_random(&seed) % 3; i > 0; i--) {
        if (clampline_queue_next(&queue, &message, &ticket) > 0) (void)clampline_queue_sent(&queue);
      }
    }
    sound = sound && clampline_queue_check(&queue) == 0;
    if (!sound) printf("step %u\n", (unsigned)step);
    if (!sound) break;
  }
  CHECK(counts, sound);
}

static void damage(check_counts *counts) {
  clampline_queue queue;
  (void)clampline_queue_init(&queue, memory, SIZE);
  for (uint32_t i = 0; i < 4; i++) (void)push(&queue, i, 50);
  memory[60] = 200; /* length of the second entry */
  CHECK(counts, clampline_queue_check(&queue) == CLAMPLINE_E_CORRUPT);
}

void test_queue(check_counts *counts) {
  order_and_bounds(counts);
  full_gives_up_oldest(counts);
  sent_but_not_arrived(counts);
  journaled(counts);
  against_a_list(counts);
  damage(counts);
}
