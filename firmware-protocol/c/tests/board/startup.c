/* Start of the test program on an emulated board: vectors, memory, then main; output by semihosting. */
#include <stdint.h>
#include <stdlib.h>

extern uint32_t stack_top, data_load, data_start, data_end, bss_start, bss_end;
extern void initialise_monitor_handles(void);
extern int main(void);
void reset(void);

static void fault(void) { _Exit(99); }

typedef struct {
  uint32_t *stack;
  void (*handlers[15])(void);
} vector_table;

__attribute__((section(".vectors"), used)) static const vector_table vectors = {
    &stack_top, {reset, fault, fault, fault, fault, fault}};

void reset(void) {
  for (uint32_t *to = &data_start, *from = &data_load; to < &data_end;) *to++ = *from++;
  for (uint32_t *to = &bss_start; to < &bss_end;) *to++ = 0;
  initialise_monitor_handles();
  exit(main());
}

/* newlib calls these where a hosted program would have constructors. */
void _init(void) {}
void _fini(void) {}
