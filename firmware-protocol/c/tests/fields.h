/* A message's fields as a JSON list in the order of SPEC.md's tables: how both languages compare notes. */
#ifndef FIELDS_H
#define FIELDS_H

#include "../clampline.h"

/* Decodes `bytes` as a message of `kind` and prints its fields, or the error code as a plain number. */
void fields_print(uint32_t kind, const uint8_t *bytes, size_t length);
/* Prints bytes as lower-case hex. */
void fields_print_hex(const uint8_t *bytes, size_t length);

#endif
