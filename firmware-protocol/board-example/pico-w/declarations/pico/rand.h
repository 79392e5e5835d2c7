#include <stdint.h>
uint32_t get_rand_32(void);
