/* The host node's link to a broker: libmosquitto under the node core. */
#ifndef LINK_H
#define LINK_H

#include <mosquitto.h>

#include "../c/clampline_node.h"

enum { LINK_IN_FLIGHT = 16 };

typedef struct {
  const char *site;
  const char *id; /* 16 hex digits: user name, client id and topic */
  const char *token;
  const char *host;
  const char *ca_file; /* NULL: no TLS */
  int port;
  clampline_node *node;
  struct mosquitto *client;
  bool connected;
  bool refused; /* the broker does not accept the credentials: trying again is no use */
  uint64_t next_try_us;
  struct {
    int mid;
    uint32_t ticket;
    bool used;
  } waiting[LINK_IN_FLIGHT]; /* published, not yet acknowledged */
} mqtt_link;

uint64_t link_clock_us(void);
/* Moves bytes for up to `wait_ms`; connects again when the connection is gone. */
void link_work(mqtt_link *link, int wait_ms);
/* As clampline_port.publish wants it. */
int32_t link_publish(mqtt_link *link, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket);
/* Says goodbye properly, so that the last will is not sent. */
void link_close(mqtt_link *link);

#endif
