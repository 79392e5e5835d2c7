/* Not pico-sdk: what pico-w/main.c uses of it, declared from memory, only so that it can be compiled without the kit. */
#ifndef PICO_STDLIB_H
#define PICO_STDLIB_H
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
typedef unsigned int uint;
typedef struct repeating_timer repeating_timer_t;
typedef bool (*repeating_timer_callback_t)(repeating_timer_t *timer);
struct repeating_timer {
  int64_t delay_us;
  void *user_data;
};
uint64_t time_us_64(void);
void busy_wait_us_32(uint32_t us);
void sleep_ms(uint32_t ms);
bool add_repeating_timer_ms(int32_t ms, repeating_timer_callback_t callback, void *data, repeating_timer_t *out);
#endif
