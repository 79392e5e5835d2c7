/*
 * The host node's link to a broker. Two implementations: link-mosquitto.c on libmosquitto (with TLS), link-own.c on a
 * socket and the core's own MQTT client, which is what a small board uses.
 */
#ifndef LINK_H
#define LINK_H

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
  void *inner;     /* of the implementation */
  bool refused;    /* the broker does not accept the credentials: trying again is no use */
} mqtt_link;

uint64_t link_clock_us(void);
/* False, with the reason on stderr, when it cannot be used so. */
bool link_open(mqtt_link *link);
/* Moves bytes for up to `wait_ms`; connects again when the connection is gone. */
void link_work(mqtt_link *link, int wait_ms);
/* As clampline_port.publish wants it. */
int32_t link_publish(mqtt_link *link, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket);
/* Says goodbye properly, so that the last will is not sent. */
void link_close(mqtt_link *link);

#endif
