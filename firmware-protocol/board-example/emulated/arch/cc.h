/* Compiler settings lwIP asks for. */
#ifndef ARCH_CC_H
#define ARCH_CC_H

#include <stdint.h>
#include <stdlib.h>

#define LWIP_PLATFORM_DIAG(x) ((void)0)
#define LWIP_PLATFORM_ASSERT(x) abort()
#define LWIP_RAND() ((uint32_t)rand())

#endif
