/* The least a test needs; runs on the host and, over semihosting, on a board. */
#ifndef CHECK_H
#define CHECK_H

#include <stdint.h>
#include <stdio.h>

typedef struct {
  unsigned passed;
  unsigned failed;
} check_counts;

#define CHECK(counts, condition)                                      \
  do {                                                                \
    if (condition) {                                                  \
      (counts)->passed++;                                             \
    } else {                                                          \
      (counts)->failed++;                                             \
      printf("FAILED %s:%d %s\n", __FILE__, __LINE__, #condition);    \
    }                                                                 \
  } while (0)

/* Numerical Recipes' linear congruential generator: the same numbers on every machine. */
static inline uint32_t check_random(uint32_t *state) {
  *state = *state * 1664525u + 1013904223u;
  return *state >> 8;
}

void test_wire(check_counts *counts);
void test_samples(check_counts *counts);
void test_messages(check_counts *counts);
void test_time(check_counts *counts);
void test_queue(check_counts *counts);
void test_node(check_counts *counts);
void test_mqtt(check_counts *counts);

#endif
