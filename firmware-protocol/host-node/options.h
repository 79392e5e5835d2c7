/* Command line of the host node. */
#ifndef OPTIONS_H
#define OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
  const char *site;
  const char *id;
  const char *host;
  const char *ca_file;
  const char *token;
  const char *wav;
  const char *raw;
  uint64_t node_id;
  double seconds;      /* 0: until the source ends, or for ever */
  double rate_error;   /* true rate = nominal x (1 + this): sensors are off by per cents */
  double full_scale;   /* m/s2 */
  uint32_t rate_hz;
  uint32_t channels;
  uint32_t frames;     /* in a packet */
  uint32_t memory_kib; /* of the store-and-forward queue */
  int port;
  uint8_t order;
  bool again;
  bool until_journaled;
} host_options;

/* False, with what is wrong and what to do on stderr, when the command line cannot be used. */
bool options_read(host_options *options, int count, char **arguments);

#endif
