/* Network card of QEMU's MPS2 boards (a LAN9118), polled, as an lwIP interface. */
#ifndef ETHERNET_H
#define ETHERNET_H

#include "lwip/netif.h"

err_t ethernet_init(struct netif *netif);
/* Takes in what has arrived. */
void ethernet_poll(struct netif *netif);

#endif
