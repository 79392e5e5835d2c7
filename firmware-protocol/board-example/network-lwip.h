/*
 * A byte stream to the broker over lwIP's raw TCP interface (2.1 or later, NO_SYS): the stack that many boards'
 * kits bring. Joins it to clampline_mqtt and connects again when the connection is lost.
 */
#ifndef NETWORK_LWIP_H
#define NETWORK_LWIP_H

#include "../c/clampline_mqtt.h"
#include "lwip/ip_addr.h"
#include "lwip/tcp.h"

typedef struct {
  ip_addr_t broker;
  uint16_t port;
  clampline_mqtt *mqtt;
  uint64_t next_try_us;
  struct tcp_pcb *pcb; /* NULL: none */
  bool open;
} network;

/* What clampline_mqtt_init wants. */
clampline_stream network_stream(network *net);
/* In the main loop, with the node's clock, while the network interface is up. */
void network_step(network *net, uint64_t now_us);

#endif
